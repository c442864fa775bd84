// @ts-check
// The screen stays on while the page is seen, where the browser allows it.

export function stayAwake() {
  async function ask() {
    if (document.visibilityState !== "visible" || !("wakeLock" in navigator)) return;
    try {
      await navigator.wakeLock.request("screen");
    } catch {
      // not allowed, or the battery is low: then it sleeps
    }
  }
  document.addEventListener("visibilitychange", ask);
  ask();
}
