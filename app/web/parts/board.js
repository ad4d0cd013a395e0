// The stacks as rows of thumbnails: move by drag, by menu or by keys; lock.
// The browser shows a step at once; the server's answer carries a new rev and replaces it.

const DRAG_START_PX = 8;
const kept = new WeakMap();

export default function (component) {
  const root = component.parentElement.querySelector('[data-part="board"]');
  let view = kept.get(root);
  if (!view) {
    view = new Board(root);
    kept.set(root, view);
  }
  view.report = (what) => component.setTriggerValue("report", what);
  view.take(component.data);
}

class Board {
  constructor(root) {
    this.root = root;
    this.rev = null;
    this.rows = el("div", "rows", root);
    this.said = el("div", "said", root);
    this.said.setAttribute("aria-live", "polite");
    root.addEventListener("keydown", (e) => this.key(e));
    document.addEventListener("pointerdown", (e) => {
      if (this.menu && !e.composedPath().includes(this.menu)) this.closeMenu();
    });
  }

  take(data) {
    this.words = data.words;
    this.value = data.value;
    this.cards = data.cards;
    if (data.rev !== this.rev) {
      this.rev = data.rev;
      this.stacks = data.stacks.map((s) => ({ ...s, squares: [...s.squares] }));
    }
    this.draw();
  }

  draw() {
    const focused = this.root.getRootNode().activeElement?.dataset?.id;
    this.closeMenu();
    this.rows.replaceChildren(...this.stacks.map((s) => this.row(s)));
    if (focused) this.rows.querySelector(`.face[data-id="${CSS.escape(focused)}"]`)?.focus();
  }

  row(stack) {
    const row = document.createElement("section");
    row.className = "row";
    row.dataset.stack = stack.key;
    row.setAttribute("aria-label", stack.name);
    const head = el("header", "", row);
    el("h3", "", head).textContent = stack.name;
    if (stack.about) el("span", "about", head).textContent = stack.about;
    const count = el("span", "count", head);
    const here = stack.squares.length;
    count.textContent = stack.wanted === null ? String(here) : `${here} ${this.words.of} ${stack.wanted}`;
    if (stack.wanted !== null && here !== stack.wanted) {
      count.classList.add("off");
      count.textContent += here > stack.wanted
        ? `, ${here - stack.wanted} ${this.words.tooMany}`
        : `, ${stack.wanted - here} ${this.words.tooFew}`;
    }
    const list = el("ul", "cards", row);
    if (!here) el("li", "empty", list).textContent = this.words.empty;
    const byValue = [...stack.squares].sort((a, b) => this.cards[a].lightness - this.cards[b].lightness);
    for (const id of byValue) list.append(this.card(id, stack));
    return row;
  }

  card(id, stack) {
    const about = this.cards[id];
    const card = document.createElement("li");
    card.className = `card ${about.kind}${about.was ? " fresh" : ""}`;
    const face = el("button", "face", card);
    face.type = "button";
    face.dataset.id = id;
    face.setAttribute("aria-haspopup", "menu");
    face.setAttribute("aria-label", [
      id, about.words, `L* ${Math.round(about.lightness)}`, about.verdict,
      about.locked ? this.words.locked : "", about.was, stack.name,
    ].filter(Boolean).join(", "));
    const image = el("img", "", face);
    image.src = this.value ? about.valueUrl : about.url;
    image.alt = "";
    image.loading = "lazy";
    image.draggable = false;
    const name = el("span", "name", face);
    el("b", "", name).textContent = id;
    el("span", "", name).textContent = `L* ${Math.round(about.lightness)}`;
    el("span", "verdict", face).textContent = about.verdict;
    if (about.locked) el("span", "lock", card).textContent = this.words.locked;
    if (about.was) el("span", "was", card).textContent = about.was;
    face.onpointerdown = (e) => this.lift(e, face, card, id);
    face.onclick = () => {
      if (!this.dragged) this.openMenu(card, id, stack);
    };
    return card;
  }

  lift(event, face, card, id) {
    this.dragged = false;
    // A finger scrolls the page; it moves squares by the menu.
    if (event.button !== 0 || event.pointerType === "touch") return;
    const start = [event.clientX, event.clientY];
    const move = (e) => {
      if (!this.dragged && Math.hypot(e.clientX - start[0], e.clientY - start[1]) < DRAG_START_PX) return;
      if (!this.dragged) {
        this.dragged = true;
        this.closeMenu();
        face.setPointerCapture(event.pointerId);
        card.classList.add("lifted");
        this.ghost = card.querySelector("img").cloneNode();
        this.ghost.className = "ghost";
        this.root.append(this.ghost);
      }
      this.ghost.style.left = `${e.clientX}px`;
      this.ghost.style.top = `${e.clientY}px`;
      this.mark(this.rowAt(e));
    };
    const end = (e) => {
      face.removeEventListener("pointermove", move);
      face.removeEventListener("pointerup", end);
      face.removeEventListener("pointercancel", end);
      if (!this.dragged) return;
      this.ghost.remove();
      card.classList.remove("lifted");
      const row = e.type === "pointerup" ? this.rowAt(e) : null;
      this.mark(null);
      if (row) this.move(id, row.dataset.stack);
      setTimeout(() => (this.dragged = false), 0);
    };
    face.addEventListener("pointermove", move);
    face.addEventListener("pointerup", end);
    face.addEventListener("pointercancel", end);
  }

  rowAt(event) {
    return [...this.rows.children].find((row) => {
      const box = row.getBoundingClientRect();
      return event.clientY >= box.top && event.clientY < box.bottom;
    });
  }

  mark(row) {
    for (const other of this.rows.children) other.classList.toggle("over", other === row);
  }

  move(id, to) {
    const from = this.stacks.find((s) => s.squares.includes(id));
    const target = this.stacks.find((s) => s.key === to);
    if (!target || target === from) return;
    from.squares = from.squares.filter((other) => other !== id);
    target.squares.push(id);
    this.draw();
    this.say(`${id} ${this.words.movedTo} ${target.name}`);
    this.report({ what: "move", id, to });
    this.rows.querySelector(`.face[data-id="${CSS.escape(id)}"]`)?.focus();
  }

  openMenu(card, id, stack) {
    const wasOpen = this.menu && card.contains(this.menu);
    this.closeMenu();
    if (wasOpen) return;
    const about = this.cards[id];
    const menu = el("div", "menu", card);
    menu.setAttribute("role", "menu");
    el("p", "", menu).textContent = `${id}: ${about.words}. ${about.why}`;
    for (const other of this.stacks) {
      if (other.key !== stack.key)
        this.item(menu, `${this.words.moveTo} ${other.name}`, () => this.move(id, other.key));
    }
    this.item(menu, about.locked ? this.words.unlock : this.words.lock, () => {
      this.closeMenu();
      this.say(`${id} ${about.locked ? this.words.unlocked : this.words.locked}`);
      this.report({ what: "lock", id, locked: !about.locked });
    });
    this.item(menu, this.words.swap, () => this.report({ what: "swap", id }));
    this.menu = menu;
    const box = menu.getBoundingClientRect();
    if (box.right > document.documentElement.clientWidth) menu.classList.add("flip");
    menu.querySelector("button").focus();
  }

  item(menu, text, act) {
    const button = el("button", "", menu);
    button.type = "button";
    button.setAttribute("role", "menuitem");
    button.textContent = text;
    button.onclick = act;
  }

  closeMenu() {
    const face = this.menu?.parentElement?.querySelector(".face");
    const inside = this.menu?.contains(this.root.getRootNode().activeElement);
    this.menu?.remove();
    this.menu = null;
    if (inside) face?.focus();
  }

  key(event) {
    if (this.menu) {
      const items = [...this.menu.querySelectorAll("button")];
      const at = items.indexOf(this.root.getRootNode().activeElement);
      if (event.key === "Escape") this.closeMenu();
      else if (event.key === "ArrowDown") items[(at + 1) % items.length].focus();
      else if (event.key === "ArrowUp") items[(at + items.length - 1) % items.length].focus();
      else return;
      event.preventDefault();
      return;
    }
    const id = event.target.dataset?.id;
    if (!id) return;
    const faces = [...this.rows.querySelectorAll(".face")];
    const at = faces.indexOf(event.target);
    const stack = this.stacks.findIndex((s) => s.squares.includes(id));
    const next = { ArrowRight: at + 1, ArrowLeft: at - 1 }[event.key];
    if (next !== undefined) faces[next]?.focus();
    else if (event.altKey && (event.key === "ArrowDown" || event.key === "ArrowUp")) {
      const to = this.stacks[stack + (event.key === "ArrowDown" ? 1 : -1)];
      if (to) this.move(id, to.key);
    } else return;
    event.preventDefault();
  }

  say(text) {
    this.said.textContent = text;
  }
}

function el(name, kind, parent) {
  const made = document.createElement(name);
  if (kind) made.className = kind;
  parent.append(made);
  return made;
}
