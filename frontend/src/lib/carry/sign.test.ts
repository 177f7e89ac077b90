// @vitest-environment node
import { generateKeyPairSync, verify } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import { receive, type Home, type Out } from './content';
import { seal, type Audience, type Keys } from './seal';
import { sign } from './sign';

const event = '018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f';
const elsewhere = '018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e60';
const key = (fill: number) => Buffer.alloc(32, fill).toString('base64');
const pair = () => generateKeyPairSync('ec', { namedCurve: 'P-256' });
const ours = pair();
const pem = ({ publicKey, privateKey }: ReturnType<typeof pair>) => ({
  check: publicKey.export({ type: 'spki', format: 'der' }).toString('base64'),
  sign: privateKey.export({ type: 'pkcs8', format: 'der' }).toString('base64')
});
const lead: Keys = { all: key(1), staff: key(2), ...pem(ours) };
const coach: Keys = { ...lead, sign: undefined };
const scout: Keys = { ...coach, staff: undefined };

const out: Out = {
  what: 'out',
  from: { nickname: 'lead', role: 'lead' },
  at: '2031-03-06T14:32:00Z',
  revisions: [],
  things: [{ name: 'teams', value: [{ team: '40117', name: 'Crew é' }], at: '2031-03-06T14:00:00Z' }]
};
const given = async (from: Keys, audience: Audience = 'all', of = event) =>
  seal(await sign(out, of, from), event, audience, lead);

describe('what a lead gives out', () => {
  it.each([
    ['a scout', 'scout', 'all', scout],
    ['a coach', 'coach', 'staff', coach],
    ['another lead', 'lead', 'staff', lead]
  ] as const)('is taken by %s', async (_, role, audience, keys) =>
    expect(await receive(await given(lead, audience), event, role, keys)).toEqual({
      content: out,
      problems: []
    })
  );

  it('has a signature that OpenSSL finds right', async () => {
    const { content, signature } = await sign(out, event, lead);
    const message = Buffer.from(`sextant carry 1 out ${event} ${content}`);
    const how = { key: ours.publicKey, dsaEncoding: 'ieee-p1363' } as const;
    expect(verify('sha256', message, how, Buffer.from(signature, 'base64'))).toBe(true);
  });

  it.each([
    [
      'a scout’s, who has the key that seals',
      async () => given({ ...scout, sign: pem(pair()).sign }),
      'The signature is wrong'
    ],
    ['that of another event', async () => given(lead, 'all', elsewhere), 'The signature is wrong'],
    [
      'changed by one letter',
      async () => {
        const signed = await sign(out, event, lead);
        const content = signed.content.replace('40117', '40118');
        return seal({ ...signed, content }, event, 'all', scout);
      },
      'The signature is wrong'
    ],
    [
      'with something else for a signature',
      async () => seal({ ...(await sign(out, event, lead)), signature: '!' }, event, 'all', scout),
      'The signature is wrong'
    ],
    ['without a signature', async () => seal(out, event, 'all', scout), 'This is not signed']
  ])('is not taken if it is %s', async (_, make, said) =>
    expect(receive(await make(), event, 'scout', scout)).rejects.toThrow(said)
  );

  it('waits until the device can check it', async () =>
    expect(receive(await given(lead), event, 'scout', { ...scout, check: undefined })).rejects.toThrow(
      'This device has no key yet to check'
    ));

  it('is not signed without the key for it', () =>
    expect(sign(out, event, coach)).rejects.toThrow('This device has no key to sign'));
});

describe('records on their way home', () => {
  it('need no signature', async () => {
    const home: Home = { what: 'home', from: { nickname: 'ann', role: 'scout' }, at: out.at, revisions: [] };
    const sealed = await seal(home, event, 'all', scout);
    expect(await receive(sealed, event, 'lead', lead)).toEqual({ content: home, problems: [] });
  });
});
