// The stacks as rows of thumbnails: move by drag, by menu or by keys; lock.
// The browser shows a step at once; the server's answer carries a new rev and replaces it.

const DRAG_START_PX = 8;
const AXIS_CARD_PX = 52;

export default (component) => show(component, "board", (root) => new Board(root));

class Board {
  constructor(root) {
    this.root = root;
    this.rev = null;
    this.images = new Map();
    this.rows = el("div", "rows", root);
    this.say = sayer(this.root);
    root.addEventListener("keydown", (e) => this.key(e));
    document.addEventListener("pointerdown", (e) => {
      if (this.menu && !e.composedPath().includes(this.menu)) this.closeMenu();
    });
  }

  take(data) {
    this.words = data.words;
    this.way = data.way;
    this.background = data.background;
    this.cards = data.cards;
    if (this.dragged) {
      // A card in hand is not taken out of it: what came in is drawn when it is let go.
      this.missed = data;
      return;
    }
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
    const faces = [...this.rows.querySelectorAll(".face")];
    this.stop(faces.find((face) => face.dataset.id === this.stopped) || faces[0]);
    if (focused) this.rows.querySelector(`.face[data-id="${CSS.escape(focused)}"]`)?.focus();
  }

  row(stack) {
    const row = document.createElement("section");
    row.className = "row";
    row.dataset.stack = stack.key;
    row.setAttribute("aria-label", stack.name);
    const head = el("header", "", row);
    el("h2", "", head).textContent = stack.name;
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
    if (this.way === "axis" && here) this.layOnAxis(list, byValue);
    if (!here && stack.wanted === null) row.classList.add("bare");
    return row;
  }

  // Each card stands at its value, in the lowest row where it covers no other.
  layOnAxis(list, ids) {
    list.classList.add("axis");
    const width = (list.clientWidth || this.rows.clientWidth || 900) - AXIS_CARD_PX;
    const ends = [];
    for (const [n, id] of ids.entries()) {
      const x = (this.cards[id].lightness / 100) * width;
      let row = ends.findIndex((end) => x >= end);
      if (row < 0) row = ends.length;
      ends[row] = x + AXIS_CARD_PX + 4;
      list.children[n].style.left = `${x}px`;
      list.children[n].style.bottom = `${row * (AXIS_CARD_PX + 22) + 26}px`;
    }
    list.style.height = `${ends.length * (AXIS_CARD_PX + 22) + 34}px`;
    // A quilt without background has none on the axis.
    if (this.background === null) return;
    const line = el("li", "background", list);
    line.style.left = `${(this.background / 100) * width + AXIS_CARD_PX / 2}px`;
    el("span", "", line).textContent = `${this.words.background} L* ${Math.round(this.background)}`;
    if (this.background > 50) line.classList.add("left");
  }

  card(id, stack) {
    const about = this.cards[id];
    const card = document.createElement("li");
    card.className = `card ${about.kind}${about.was ? " fresh" : ""}`;
    const face = el("button", "face", card);
    face.type = "button";
    face.dataset.id = id;
    face.tabIndex = -1;
    face.onfocus = () => this.stop(face);
    face.setAttribute("aria-haspopup", "menu");
    face.setAttribute("aria-label", [
      id, about.words, `L* ${Math.round(about.lightness)}`, about.verdict,
      about.locked ? this.words.locked : "", about.swapped, about.was, stack.name,
    ].filter(Boolean).join(", "));
    face.append(this.image(id, this.way === "value" ? about.valueUrl : about.url));
    const name = el("span", "name", face);
    el("b", "", name).textContent = id;
    el("span", "", name).textContent = `L* ${Math.round(about.lightness)}`;
    el("span", "verdict", face).textContent = about.verdict;
    if (about.locked) el("span", "lock", card).textContent = this.words.locked;
    if (about.was || about.swapped) el("span", "was", card).textContent = about.was || about.swapped;
    face.onpointerdown = (e) => this.lift(e, face, card, id);
    face.onclick = () => {
      if (!this.dragged) this.openMenu(card, id, stack);
    };
    return card;
  }

  // One card is reached by Tab, the others from it by arrow keys.
  stop(face) {
    if (!face) return;
    for (const other of this.rows.querySelectorAll('.face[tabindex="0"]')) other.tabIndex = -1;
    face.tabIndex = 0;
    this.stopped = face.dataset.id;
  }

  // Pictures are kept from one drawing to the next, so that nothing flickers.
  image(id, url) {
    let image = this.images.get(id);
    if (!image) {
      image = document.createElement("img");
      image.alt = "";
      image.decoding = "async";
      image.draggable = false;
      this.images.set(id, image);
    }
    if (image.getAttribute("src") !== url) image.src = url;
    return image;
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
      setTimeout(() => (this.dragged = false), 0);
      const missed = this.missed;
      this.missed = null;
      if (missed) {
        this.dragged = false;
        this.take(missed);
      }
      if (row) this.move(id, row.dataset.stack);
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
    el("p", "", menu).textContent = [`${id}: ${about.words}.`, about.swapped, about.why].filter(Boolean).join(" ");
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
    } else if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      this.below(event.target, event.key === "ArrowDown" ? 1 : -1)?.focus();
    } else return;
    event.preventDefault();
  }

  // The card nearest in the next row of cards.
  below(face, way) {
    const box = face.getBoundingClientRect();
    const far = (other) => {
      const there = other.getBoundingClientRect();
      const down = way * (there.top - box.top);
      return down < 8 ? Infinity : down * 4 + Math.abs(there.left - box.left);
    };
    let best = null;
    for (const other of this.rows.querySelectorAll(".face"))
      if (far(other) < (best ? far(best) : Infinity)) best = other;
    return best;
  }
}
