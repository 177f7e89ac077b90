/** Keeps the screen on, where the browser can; an effect: returns its end, after which the device dims it. */
export function keepAwake(): () => void {
  let lock: WakeLockSentinel | undefined;
  let ended = false;
  const take = async () => {
    if (document.visibilityState !== 'visible' || !navigator.wakeLock) return;
    const got = await navigator.wakeLock.request('screen').catch(() => undefined); // low battery
    if (ended) void got?.release();
    else lock = got;
  };
  // The browser lets go when the app is hidden.
  document.addEventListener('visibilitychange', take);
  void take();
  return () => {
    ended = true;
    document.removeEventListener('visibilitychange', take);
    void lock?.release();
  };
}
