// What the parts have in common; it stands before each of them.

const kept = new WeakMap();

// One view for each place on the page: made once, then given every new state.
function show(component, name, make) {
  const root = component.parentElement.querySelector(`[data-part="${name}"]`);
  let view = kept.get(root);
  if (!view) {
    view = make(root);
    kept.set(root, view);
  }
  // Of reports that wait for the server at once only the newest gets there: so each carries all
  // that it has not said it heard.
  view.name ??= crypto.getRandomValues(new Uint32Array(2)).join("-");
  view.told ??= 0;
  const heard = component.data.heard[view.name] || 0;
  view.waiting = (view.waiting || []).filter((report) => report.number > heard);
  view.report = (what) => {
    view.waiting.push({ ...what, number: ++view.told });
    component.setTriggerValue("report", { from: view.name, reports: view.waiting });
  };
  view.take(component.data);
}

// A line that is only heard: what was moved, chosen, locked.
function sayer(root) {
  const said = el("div", "said", root);
  said.setAttribute("aria-live", "polite");
  return (text) => {
    said.textContent = text;
  };
}

function el(name, kind, parent) {
  const made = document.createElement(name);
  if (kind) made.className = kind;
  parent.append(made);
  return made;
}
