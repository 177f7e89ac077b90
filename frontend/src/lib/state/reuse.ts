/**
 * Keeps what was made of each key as long as it is made of the same parts. After a
 * change the rest of a long list are the same objects as before, and what is drawn of
 * them stays as it is.
 */
export type Reuse = <T>(key: string, parts: readonly unknown[], make: () => T) => T;

/** Every maker has keys of its own. */
export function reuser(): Reuse {
  const kept = new Map<string, { parts: readonly unknown[]; made: unknown }>();
  return <T>(key: string, parts: readonly unknown[], make: () => T): T => {
    const before = kept.get(key);
    if (before?.parts.length === parts.length && before.parts.every((p, i) => Object.is(p, parts[i])))
      return before.made as T;
    const made = make();
    kept.set(key, { parts, made });
    return made;
  };
}

/** Makes everything anew. */
export const afresh: Reuse = (_key, _parts, make) => make();
