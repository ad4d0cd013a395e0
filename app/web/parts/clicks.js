// What was typed goes to the server a moment after its field was left. A link or a button that is
// clicked in that same moment, as by a finger's tap, would overtake it: so the click waits for it.

const WAIT_MS = 200;

export default () => {
  if (document.bundlestacksClicks) return;
  document.bundlestacksClicks = true;
  let typed = null;
  let left = -WAIT_MS;
  document.addEventListener("input", (e) => (typed = e.composedPath()[0]), true);
  document.addEventListener("focusout", (e) => {
    const from = e.composedPath()[0];
    // A corner that is moved by keys is told then, too.
    if (from === typed || from.dataset?.corner) left = performance.now();
    if (from === typed) typed = null;
  }, true);
  document.addEventListener("click", (e) => {
    const rest = left + WAIT_MS - performance.now();
    const aim = e.composedPath()[0].closest?.("a, button");
    if (!aim || rest <= 0 || e.button || e.ctrlKey || e.metaKey || e.shiftKey || e.altKey) return;
    e.preventDefault();
    e.stopImmediatePropagation();
    const [x, y] = [e.clientX, e.clientY];
    setTimeout(() => {
      // It may have been drawn anew meanwhile.
      const still = aim.isConnected ? aim : document.elementFromPoint(x, y)?.closest("a, button");
      still?.click();
    }, rest);
  }, true);
};
