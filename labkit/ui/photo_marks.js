// A photo on which corners are marked: clicked, dragged, moved with the arrow keys, or typed. Stands behind typed.js.

// A smaller file goes to the kernel as it is: shrinking writes its colours anew.
const SHRINK_BYTES = 8e6;
// What the server lets through is little more.
const MOST_BYTES = 60e6;
// A photo of 4:3 has then just fewer pixels than the lab would make it smaller at once more.
const LONGEST_PX = 2340;
const PATIENCE_MS = 15000;
const REST_MS = 400;
const SAME_PX = 8;
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const CLICK = matchMedia("(pointer: coarse)").matches ? "Tap" : "Click";
const UNREADABLE = "This file is too large to send, and this browser cannot make it smaller. Set the camera to JPEG, or export the picture as JPEG, and choose it again.";
const HOW_MOVED = "Drag a mark to move it, or press the arrow keys on it (with Shift for larger steps).";
const SILENT = "The kernel does not answer yet. It may be busy, or need a restart; after a restart choose the photo again.";

let lastPhoto = 0;

const within = (value) => Math.min(1, Math.max(0, value));

// The fraction in pixels or, where a photo's size is not known yet, nothing.
function inPixels(point, size) {
  return point && size.length ? `${Math.round(point[0] * size[0])} ${Math.round(point[1] * size[1])}` : "";
}

async function photoBytes(file) {
  if (file.size <= SHRINK_BYTES) return file.arrayBuffer();
  try {
    return await (await shrunkPhoto(file, LONGEST_PX)).arrayBuffer();
  } catch {
    if (file.size > MOST_BYTES) throw new Error(UNREADABLE);
    return file.arrayBuffer();
  }
}

// ---------------------------------------------------------------- lines and the magnifier

function outline(points, corners) {
  const [from, to] = points;
  if (corners === 2 && to) return [from, [to[0], from[1]], to, [from[0], to[1]]];
  return points;
}

// Dark beside light, to be seen on any colour.
function drawLines(svg, groups) {
  svg.replaceChildren(...groups.flatMap(({ points, corners }) => ["dark", "light"].map((kind) => {
    const shape = document.createElementNS("http://www.w3.org/2000/svg", points.length === corners ? "polygon" : "polyline");
    shape.setAttribute("points", outline(points, corners).map((point) => point.join(",")).join(" "));
    shape.setAttribute("class", `labkit-${kind}-line`);
    return shape;
  })));
}

function magnify(loupe, image, [x, y]) {
  const zoom = Math.max(3, (2 * image.naturalWidth) / image.clientWidth);
  const [wide, high] = [image.clientWidth * zoom, image.clientHeight * zoom];
  loupe.classList.toggle("labkit-at-right", x < 0.5);
  loupe.hidden = false;
  loupe.style.backgroundSize = `${wide}px ${high}px`;
  loupe.style.backgroundPosition = `${loupe.clientWidth / 2 - x * wide}px ${loupe.clientHeight / 2 - y * high}px`;
}

// ---------------------------------------------------------------- the photo and its marks

class Marking {
  constructor(model, el) {
    this.model = model;
    this.id = `labkit-photo-${++lastPhoto}`;
    this.buttons = new Map();
    this.status = node("div", { class: "labkit-say", role: "status", "aria-live": "polite" });
    this.next = node("p", { class: "labkit-next-mark", "aria-live": "polite" });
    this.image = node("img", { alt: "The photo to mark corners on", draggable: "false" });
    this.lines = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    this.lines.setAttribute("viewBox", "0 0 1 1");
    this.lines.setAttribute("preserveAspectRatio", "none");
    this.lines.setAttribute("aria-hidden", "true");
    this.loupe = node("div", { class: "labkit-loupe", "aria-hidden": "true", hidden: true });
    this.stage = node("div", {
      class: "labkit-stage", onclick: (event) => this.clicked(event), onpointerleave: () => { this.loupe.hidden = true; },
      onpointermove: (event) => this.hovered(event),
    }, this.image, this.lines, this.loupe);
    this.again = node("div", { class: "labkit-bigs" });
    this.fields = node("div", { class: "labkit-lines" });
    this.work = node("div", { hidden: true }, this.next, this.stage, node("p", {}, HOW_MOVED), this.again, this.typing());
    el.classList.add("labkit-form");
    el.setAttribute("data-lm-suppress-shortcuts", "true");
    el.addEventListener("keydown", (event) => event.stopPropagation());
    el.append(this.chooser(), this.work, this.status);
    this.marks = structuredClone(model.get("marks"));
    this.showPicture();
    this.askAnew();
    this.say();
  }
  chooser() {
    const file = node("input", { id: `${this.id}-file`, type: "file", accept: "image/*", class: "labkit-file", onchange: () => this.choose(file) });
    return node("div", { class: "labkit-line" }, node("label", { class: "labkit-label", for: file.id }, "Take or choose a photo"), file);
  }
  typing() {
    const use = node("button", { type: "button", class: "labkit-plain", onclick: () => this.sendTyped() }, "Use these corners");
    this.howTyped = node("p", {});
    return node("details", {}, node("summary", {}, "Type the corners instead"), this.howTyped, this.fields, node("div", { class: "labkit-foot" }, use));
  }
  async choose(input) {
    const [file] = input.files;
    if (!file) return;
    this.tell("Sending the photo…");
    try {
      const bytes = await photoBytes(file);
      this.expectAnswer();
      this.model.send({ photo: file.name }, undefined, [bytes]);
    } catch (error) {
      this.tell(error.message === UNREADABLE ? UNREADABLE : `The photo was not sent. ${SILENT}`, true);
    }
  }
  // ---- what stands there
  get groups() {
    return this.model.get("asked").map((group) => ({ ...group, points: this.marks[group.name] ?? [] }));
  }
  get wanted() {
    return this.groups.find((group) => group.points.length < group.corners.length);
  }
  thing(group) {
    return group.label.replace(/^the /, "");
  }
  showPicture() {
    const bytes = this.model.get("picture");
    if (this.address) URL.revokeObjectURL(this.address);
    this.address = bytes?.byteLength ? URL.createObjectURL(new Blob([bytes], { type: "image/jpeg" })) : "";
    this.work.hidden = !this.address;
    if (!this.address) return;
    this.image.src = this.address;
    this.loupe.style.backgroundImage = `url("${this.address}")`;
    const [wide, high] = this.model.get("size");
    this.howTyped.textContent = `Across and down from the top left of the photo: pixels of its ${wide} × ${high}, such as 412 233, or per cent, such as 10.3 % 7.8 %.`;
  }
  askAnew() {
    this.again.replaceChildren(...this.groups.map((group) => node("button", { type: "button", class: "labkit-plain", onclick: () => this.startAgain(group) }, `Start ${group.label} again`)));
    this.fields.replaceChildren(...this.groups.flatMap((group) => group.corners.map((corner, at) => this.field(group, corner, at))));
    this.draw();
  }
  field(group, corner, at) {
    const id = `${this.id}-${group.name}-${at}`;
    const box = node("input", {
      id, type: "text", autocomplete: "off", placeholder: "across down", "data-path": `${group.name}/${at}`, "aria-describedby": `${id}-fault`,
      onkeydown: (event) => event.key === "Enter" && this.sendTyped(),
    });
    return node("div", { class: "labkit-line" }, node("label", { class: "labkit-label", for: id }, `${this.thing(group)} corner ${at + 1}: ${corner}`),
      box, node("div", { class: "labkit-fault", id: `${id}-fault` }));
  }
  draw() {
    const { wanted } = this;
    const at = wanted?.points.length;
    this.next.textContent = wanted ? `${CLICK} ${wanted.label}’s corner ${at + 1} of ${wanted.corners.length}: ${wanted.corners[at]}.`
      : "Every corner is marked. What is read stands below.";
    this.stage.classList.toggle("labkit-wanted", Boolean(wanted));
    drawLines(this.lines, this.groups.map((group) => ({ points: group.points, corners: group.corners.length })));
    this.drawMarks();
    this.fillTyped();
  }
  drawMarks() {
    const there = new Set();
    this.groups.forEach((group, order) => group.points.forEach(([x, y], at) => {
      const path = `${group.name}/${at}`;
      there.add(path);
      if (!this.buttons.has(path)) this.buttons.set(path, this.stage.appendChild(this.mark(group.name, at)));
      const button = this.buttons.get(path);
      button.setAttribute("aria-label", `${this.thing(group)} corner ${at + 1}`);
      button.title = group.corners[at];
      button.style.left = `${100 * x}%`;
      button.style.top = `${100 * y}%`;
      button.dataset.order = order;
      button.classList.toggle("labkit-to-left", x > 0.95 || (x > 0.05 && x < 0.5));
      button.classList.toggle("labkit-to-top", y > 0.95 || (y > 0.05 && y < 0.5));
    }));
    for (const [path, button] of this.buttons) {
      if (there.has(path)) continue;
      button.remove();
      this.buttons.delete(path);
    }
  }
  fillTyped() {
    const faults = this.model.get("faults");
    for (const box of this.fields.querySelectorAll("input")) {
      const [name, at] = box.dataset.path.split("/");
      const text = inPixels(this.marks[name]?.[at], this.model.get("size"));
      if (text !== box.dataset.marked) box.value = text;
      box.dataset.marked = text;
      const fault = faults[box.dataset.path] ?? "";
      box.nextSibling.textContent = fault;
      if (fault) box.setAttribute("aria-invalid", "true");
      else box.removeAttribute("aria-invalid");
    }
  }
  // ---- marking
  mark(name, at) {
    return node("button", {
      type: "button", class: "labkit-mark", onpointerdown: (event) => this.grab(event, name, at), onkeydown: (event) => this.key(event, name, at),
    }, node("span", {}, at + 1));
  }
  at(event) {
    const box = this.image.getBoundingClientRect();
    return [within((event.clientX - box.left) / box.width), within((event.clientY - box.top) / box.height)];
  }
  pixelsApart(one, other) {
    return Math.hypot((one[0] - other[0]) * this.image.clientWidth, (one[1] - other[1]) * this.image.clientHeight);
  }
  clicked(event) {
    if (!event.target.closest(".labkit-mark")) this.place(this.at(event));
  }
  hovered(event) {
    if (event.pointerType === "mouse" && this.wanted && !this.dragging) magnify(this.loupe, this.image, this.at(event));
  }
  // The second click of a double click marks nothing.
  place(point) {
    const { wanted } = this;
    if (!wanted || wanted.points.some((each) => this.pixelsApart(each, point) < SAME_PX)) return;
    this.marks[wanted.name] = [...wanted.points, point];
    this.send();
    this.draw();
    if (!this.wanted) this.loupe.hidden = true;
    this.buttons.get(`${wanted.name}/${wanted.points.length}`).focus({ preventScroll: true });
  }
  // A press on a mark moves it; one that does not move is meant for the photo behind it.
  grab(event, name, at) {
    if (event.button !== 0) return;
    const button = event.currentTarget;
    const [from, start] = [this.at(event), this.marks[name][at]];
    this.dragging = false;
    const move = (moved) => {
      const to = this.at(moved);
      this.dragging ||= this.pixelsApart(from, to) > 4;
      if (!this.dragging || !this.marks[name]?.[at]) return;
      this.moveTo(name, at, [start[0] + to[0] - from[0], start[1] + to[1] - from[1]]);
      magnify(this.loupe, this.image, this.marks[name][at]);
    };
    const end = (last) => {
      button.removeEventListener("pointermove", move);
      if (this.dragging) this.send();
      else if (last.type === "pointerup") this.place(from);
      this.dragging = false;
      this.loupe.hidden = true;
    };
    button.setPointerCapture(event.pointerId);
    button.addEventListener("pointermove", move);
    for (const kind of ["pointerup", "pointercancel"]) button.addEventListener(kind, end, { once: true });
  }
  moveTo(name, at, [x, y]) {
    this.marks[name][at] = [within(x), within(y)];
    this.draw();
  }
  key(event, name, at) {
    const way = ARROWS[event.key];
    if (!way) return;
    event.preventDefault();
    const step = event.shiftKey ? 10 : 1;
    const [x, y] = this.marks[name][at];
    this.moveTo(name, at, [x + (way[0] * step) / this.image.clientWidth, y + (way[1] * step) / this.image.clientHeight]);
    clearTimeout(this.resting);
    this.resting = setTimeout(() => this.send(), REST_MS);
  }
  startAgain(group) {
    delete this.marks[group.name];
    this.send();
    this.draw();
  }
  // ---- to and from the kernel
  send() {
    clearTimeout(this.resting);
    if (JSON.stringify(this.marks) === JSON.stringify(this.model.get("marks"))) return;
    if (!this.wanted) this.expectAnswer();
    this.model.set("marks", structuredClone(this.marks));
    this.model.save_changes();
  }
  sendTyped() {
    const typed = {};
    for (const box of this.fields.querySelectorAll("input")) (typed[box.dataset.path.split("/")[0]] ??= []).push(box.value);
    this.expectAnswer();
    this.model.send({ typed });
  }
  expectAnswer() {
    clearTimeout(this.waiting);
    this.waiting = setTimeout(() => this.tell(SILENT, true), PATIENCE_MS);
  }
  marked() {
    if (this.dragging) return;
    this.marks = structuredClone(this.model.get("marks"));
    this.draw();
  }
  faulted() {
    this.draw();
    this.fields.querySelector("[aria-invalid]")?.focus();
  }
  say() {
    clearTimeout(this.waiting);
    this.tell(this.model.get("say"), this.model.get("wrong"));
  }
  tell(text, wrong = false) {
    this.status.textContent = text;
    this.status.classList.toggle("labkit-fault", wrong);
  }
  close() {
    clearTimeout(this.waiting);
    clearTimeout(this.resting);
    if (this.address) URL.revokeObjectURL(this.address);
  }
}

function render({ model, el }) {
  const marking = new Marking(model, el);
  const heard = {
    "change:picture change:size": () => { marking.showPicture(); marking.draw(); },
    "change:asked": () => marking.askAnew(),
    "change:marks": () => marking.marked(),
    "change:faults": () => marking.faulted(),
    "change:say change:wrong": () => marking.say(),
  };
  for (const [name, hears] of Object.entries(heard)) model.on(name, hears);
  return () => {
    marking.close();
    for (const [name, hears] of Object.entries(heard)) model.off(name, hears);
  };
}

export default { render };
