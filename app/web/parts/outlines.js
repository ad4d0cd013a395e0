// The photo with its outlines: choose, drag corners, add, remove, mark.
// Places are fractions of the picture. Every finished step is reported; nothing else travels.

const SVG = "http://www.w3.org/2000/svg";
const CORNERS = ["top left", "top right", "bottom right", "bottom left"];
const KEY_REST_MS = 300;
const ROOM_PX = 130;
const SMALL_PX = 600;
const POINTING = ["add", "white", "ignore", "background"];
const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };


export default (component) => show(component, "outlines", (root) => new View(root));

const middle = (corners) => {
  const sum = corners.reduce((s, c) => [s[0] + c[0], s[1] + c[1]], [0, 0]);
  return [sum[0] / corners.length, sum[1] / corners.length];
};
const clamp = (v) => Math.min(1, Math.max(0, v));

class View {
  constructor(root) {
    this.root = root;
    this.tool = "adjust";
    this.chosen = null;
    this.zoom = 1;
    this.rev = null;
    this.build();
  }

  build() {
    this.tools = el("div", "tools", this.root);
    this.tools.setAttribute("role", "toolbar");
    this.hint = el("p", "hint", this.root);
    this.window = el("div", "window", this.root);
    this.stage = el("div", "stage", this.window);
    this.image = el("img", "", this.stage);
    this.image.draggable = false;
    this.svg = document.createElementNS(SVG, "svg");
    this.svg.setAttribute("viewBox", "0 0 1 1");
    this.svg.setAttribute("preserveAspectRatio", "none");
    this.stage.append(this.svg);
    this.over = el("div", "", this.stage);
    this.say = sayer(this.root);
    this.stage.addEventListener("click", (e) => this.touched(e));
    this.root.addEventListener("keydown", (e) => this.key(e));
  }

  take(data) {
    // A corner in hand is not taken out of it: its own report brings the state again.
    if (this.inHand) return;
    const fresh = data.rev !== this.rev;
    this.words = data.words;
    if (this.image.getAttribute("src") !== data.url) this.image.src = data.url;
    this.image.alt = data.alt;
    if (fresh) {
      this.rev = data.rev;
      this.squares = data.squares.map((s) => ({ ...s, corners: s.corners.map((c) => [...c]) }));
      this.white = data.white;
      this.background = data.background.map((c) => [...c]);
      this.outer = data.outer.map((c) => [...c]);
      this.side = data.side;
      if (!this.current()) this.chosen = null;
    }
    this.drawTools();
    this.draw();
  }

  current() {
    if (this.chosen === "outer") return this.outer.length ? { id: "outer", corners: this.outer } : null;
    if (this.chosen === "background")
      return this.background.length ? { id: "background", corners: this.background } : null;
    return this.squares.find((s) => s.id === this.chosen) || null;
  }

  drawTools() {
    const focused = this.root.getRootNode().activeElement?.dataset?.tool;
    this.tools.replaceChildren();
    for (const [tool, words] of this.words.tools) {
      const button = el("button", "", this.tools);
      button.type = "button";
      button.dataset.tool = tool;
      button.textContent = words;
      button.setAttribute("aria-pressed", String(this.tool === tool));
      button.onclick = () => this.useTool(tool);
      if (focused === tool) button.focus();
    }
    this.acts = el("span", "acts", this.tools);
    const remove = this.button(this.words.remove, () => this.remove());
    remove.disabled = !this.current();
    this.button("−", () => this.zoomBy(1 / 1.5), this.words.smaller).className = "square";
    this.button("+", () => this.zoomBy(1.5), this.words.larger).className = "square";
    this.hint.textContent = this.words.hints[this.tool];
  }

  button(text, act, label) {
    const button = el("button", "", this.acts);
    button.type = "button";
    button.textContent = text;
    if (label) button.setAttribute("aria-label", label);
    button.onclick = act;
    return button;
  }

  useTool(tool) {
    this.tool = tool;
    if (POINTING.includes(tool)) this.chosen = null;
    if (tool === "outer") {
      if (!this.outer.length) this.outer = [[0.08, 0.08], [0.92, 0.08], [0.92, 0.92], [0.08, 0.92]];
      this.chosen = "outer";
    }
    this.drawTools();
    this.draw();
  }

  zoomBy(factor) {
    this.zoom = Math.min(6, Math.max(1, this.zoom * factor));
    this.stage.style.width = `${this.zoom * 100}%`;
    const chosen = this.current();
    if (chosen && this.zoom > 1) {
      const [x, y] = middle(chosen.corners);
      this.window.scrollTo(
        x * this.stage.clientWidth - this.window.clientWidth / 2,
        y * this.stage.clientHeight - this.window.clientHeight / 2,
      );
    }
    this.say(`${Math.round(this.zoom * 100)} %`);
  }

  draw() {
    this.stage.dataset.tool = this.tool;
    const active = this.root.getRootNode().activeElement;
    const focused = active?.dataset?.id;
    const corner = active?.dataset?.corner;
    this.svg.replaceChildren();
    this.over.replaceChildren();
    for (const square of this.squares) {
      const chosen = square.id === this.chosen;
      const kind = (square.doubtful ? "doubtful " : "") + (chosen ? "chosen" : "");
      this.polygon(square.corners, "under");
      const shape = this.polygon(square.corners, kind);
      shape.dataset.id = square.id;
      shape.setAttribute("tabindex", square.id === this.reachable() ? "0" : "-1");
      shape.setAttribute("role", "button");
      shape.setAttribute("aria-pressed", String(chosen));
      shape.setAttribute("aria-label", square.words);
      this.label(square.address, middle(square.corners), square.doubtful ? "doubtful" : "");
      if (focused === square.id) shape.focus();
    }
    if (this.background.length) {
      this.polygon(this.background, "under");
      this.polygon(this.background, "region").dataset.id = "background";
      this.label(this.words.background, middle(this.background), "mark");
    }
    if (this.outer.length && this.chosen === "outer") {
      this.polygon(this.outer, "under");
      this.polygon(this.outer, "region").dataset.id = "outer";
    }
    if (this.white) this.label(this.words.white, this.white, "mark");
    this.drawHandles();
    this.drawPointer();
    if (corner !== undefined) this.over.querySelector(`[data-corner="${corner}"]`)?.focus();
  }

  // Where a tool acts, for those who have no mouse: arrow keys move it, Enter uses it.
  drawPointer() {
    if (!POINTING.includes(this.tool)) return;
    const pointer = el("button", "pointer", this.over);
    pointer.type = "button";
    pointer.dataset.pointer = "";
    const words = this.words.tools.find(([tool]) => tool === this.tool)[1];
    pointer.setAttribute("aria-label", `${words}: ${this.words.pointer}`);
    this.pointAt ??= [0.5, 0.5];
    place(pointer, this.pointAt);
    pointer.onclick = (e) => {
      e.stopPropagation();
      this.act(this.tool, this.pointAt);
    };
    pointer.onkeydown = (e) => {
      const step = STEPS[e.key];
      if (!step) return;
      e.preventDefault();
      const by = e.shiftKey ? 0.05 : 0.01;
      this.pointAt = [clamp(this.pointAt[0] + step[0] * by), clamp(this.pointAt[1] + step[1] * by)];
      place(pointer, this.pointAt);
    };
  }

  // One square is reached by Tab, the others from it by arrow keys.
  reachable() {
    if (POINTING.includes(this.tool)) return null;
    const known = this.squares.some((s) => s.id === this.stop);
    return known ? this.stop : this.squares[0]?.id;
  }

  walk(id, [dx, dy]) {
    const here = this.squares.find((s) => s.id === id);
    if (!here) return;
    const [x, y] = middle(here.corners);
    let best = null;
    for (const other of this.squares) {
      const [u, v] = middle(other.corners);
      const along = (u - x) * dx + (v - y) * dy;
      const across = Math.abs((u - x) * dy) + Math.abs((v - y) * dx);
      if (along > 1e-3 && along >= across && (!best || along + 2 * across < best.far))
        best = { id: other.id, far: along + 2 * across };
    }
    if (!best) return;
    this.stop = best.id;
    for (const shape of this.svg.querySelectorAll("polygon[role]"))
      shape.setAttribute("tabindex", shape.dataset.id === best.id ? "0" : "-1");
    this.svg.querySelector(`polygon[role][data-id="${CSS.escape(best.id)}"]`)?.focus();
  }

  polygon(corners, kind) {
    const shape = document.createElementNS(SVG, "polygon");
    shape.setAttribute("points", corners.map((c) => c.join(",")).join(" "));
    shape.setAttribute("class", kind);
    this.svg.append(shape);
    return shape;
  }

  label(text, [x, y], kind) {
    const label = el("span", `label ${kind}`, this.over);
    label.textContent = text;
    place(label, [x, y]);
    return label;
  }

  drawHandles() {
    const chosen = this.current();
    if (!chosen) return;
    chosen.corners.forEach((corner, i) => {
      const handle = el("button", "handle", this.over);
      handle.type = "button";
      handle.dataset.corner = i;
      handle.setAttribute("aria-label", `${chosen.address || ""} ${this.words.corner} ${CORNERS[i]}`);
      place(handle, corner);
      handle.onpointerdown = (e) => this.drag(e, handle, chosen, i);
      handle.onkeydown = (e) => this.nudge(e, handle, chosen, i);
      handle.onclick = (e) => e.stopPropagation();
      // What was moved by keys is told before what comes next, be it a link to another page.
      handle.onblur = () => this.rest();
    });
  }

  drag(event, handle, chosen, i) {
    event.preventDefault();
    handle.focus();
    handle.setPointerCapture(event.pointerId);
    this.inHand = true;
    handle.onpointermove = (e) => {
      chosen.corners[i] = this.at(e);
      this.moved(chosen, handle, i);
    };
    const end = () => {
      handle.onpointermove = handle.onpointerup = handle.onpointercancel = null;
      this.changed(chosen);
    };
    handle.onpointerup = end;
    handle.onpointercancel = end;
  }

  nudge(event, handle, chosen, i) {
    const step = STEPS[event.key];
    if (!step) return;
    event.preventDefault();
    event.stopPropagation();
    const far = event.shiftKey ? 10 : 1;
    const width = this.image.naturalWidth || 1000;
    const height = this.image.naturalHeight || 1000;
    const [x, y] = chosen.corners[i];
    chosen.corners[i] = [clamp(x + (step[0] * far) / width), clamp(y + (step[1] * far) / height)];
    this.moved(chosen, handle, i);
    this.inHand = true;
    clearTimeout(this.resting);
    this.nudged = chosen;
    this.resting = setTimeout(() => this.rest(), KEY_REST_MS);
  }

  rest() {
    clearTimeout(this.resting);
    const nudged = this.nudged;
    this.nudged = null;
    if (nudged) this.changed(nudged);
  }

  moved(chosen, handle, i) {
    place(handle, chosen.corners[i]);
    const points = chosen.corners.map((c) => c.join(",")).join(" ");
    for (const shape of this.svg.querySelectorAll(`polygon[data-id="${CSS.escape(chosen.id)}"]`)) {
      shape.setAttribute("points", points);
      shape.previousElementSibling?.setAttribute("points", points);
    }
  }

  changed(chosen) {
    this.inHand = false;
    this.say(`${chosen.address || ""} ${this.words.moved}`);
    this.report({ what: "moved", id: chosen.id, corners: chosen.corners, rev: this.rev });
  }

  at(event) {
    const box = this.image.getBoundingClientRect();
    return [clamp((event.clientX - box.left) / box.width), clamp((event.clientY - box.top) / box.height)];
  }

  touched(event) {
    const id = event.target.dataset?.id;
    if (POINTING.includes(this.tool)) this.act(this.tool, this.at(event));
    else this.choose(id || null);
  }

  act(tool, [x, y]) {
    if (tool === "add") {
      const [w, h] = this.side;
      const corners = [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([u, v]) => [
        clamp(x + (u * w) / 2), clamp(y + (v * h) / 2),
      ]);
      this.report({ what: "added", corners, rev: this.rev });
    } else if (tool === "white" || tool === "ignore") {
      this.report({ what: tool, point: [x, y], rev: this.rev });
    } else {
      const [w, h] = this.side.map((v) => v * 0.6);
      this.background = [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([u, v]) => [
        clamp(x + (u * w) / 2), clamp(y + (v * h) / 2),
      ]);
      this.chosen = "background";
      this.changed(this.current());
    }
    this.tool = "adjust";
    this.drawTools();
    this.draw();
  }

  choose(id) {
    this.chosen = id;
    const chosen = this.current();
    if (chosen) this.bringNear(chosen);
    this.drawTools();
    this.draw();
    this.say(chosen ? `${chosen.words || chosen.id} ${this.words.chosen}` : "");
  }

  // On a small screen four handles need more room than a square has.
  bringNear(chosen) {
    const xs = chosen.corners.map((c) => c[0]);
    const wide = (Math.max(...xs) - Math.min(...xs)) * this.stage.clientWidth;
    if (wide < ROOM_PX && this.window.clientWidth < SMALL_PX) this.zoomBy(ROOM_PX / wide);
  }

  remove() {
    const chosen = this.current();
    if (!chosen) return;
    this.chosen = null;
    if (chosen.id === "outer") this.outer = [];
    else if (chosen.id === "background") this.background = [];
    else this.squares = this.squares.filter((s) => s.id !== chosen.id);
    this.say(`${chosen.address || ""} ${this.words.removed}`);
    this.report({ what: "removed", id: chosen.id, corners: chosen.corners, rev: this.rev });
    this.drawTools();
    this.draw();
  }

  key(event) {
    const id = event.target.dataset?.id;
    if ((event.key === "Enter" || event.key === " ") && id) {
      event.preventDefault();
      this.tool = "adjust";
      this.stop = id;
      this.choose(id);
      this.over.querySelector(".handle")?.focus();
    } else if (STEPS[event.key] && id) {
      event.preventDefault();
      this.walk(id, STEPS[event.key]);
    } else if (event.key === "Delete" || event.key === "Backspace") {
      if (id && !this.current()) this.chosen = id;
      if (this.current()) {
        event.preventDefault();
        this.remove();
      }
    } else if (event.key === "Escape") {
      this.tool = "adjust";
      this.choose(null);
    }
  }
}

function place(item, [x, y]) {
  item.style.left = `${x * 100}%`;
  item.style.top = `${y * 100}%`;
}
