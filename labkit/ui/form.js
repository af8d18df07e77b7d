// A form that loses nothing: what is typed stays in this browser until the kernel has it on disk.

const RESEND_MS = 4000;

function uuid7() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  const now = Date.now();
  for (let i = 0; i < 6; i++) bytes[i] = Math.floor(now / 2 ** (8 * (5 - i))) % 256;
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

function withOffset() {
  const date = new Date();
  const minutes = -date.getTimezoneOffset();
  const pad = (number) => String(Math.abs(number)).padStart(2, "0");
  const sign = minutes < 0 ? "-" : "+";
  const shifted = new Date(date.getTime() + minutes * 60000).toISOString().slice(0, 19);
  return shifted + sign + pad(Math.trunc(minutes / 60)) + ":" + pad(minutes % 60);
}

const memory = {};

function recall(name, otherwise) {
  try {
    return JSON.parse(localStorage.getItem(name)) ?? memory[name] ?? otherwise;
  } catch {
    return memory[name] ?? otherwise;
  }
}

function keep(name, value) {
  memory[name] = value;
  try {
    if (value === null) localStorage.removeItem(name);
    else localStorage.setItem(name, JSON.stringify(value));
  } catch {
    // The browser's store is full or closed: the copy in memory serves until the page is left.
  }
}

function node(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (value !== false && value !== null && value !== undefined) made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children.filter((child) => child !== null && child !== undefined));
  return made;
}

async function shrunkPhoto(file, longest = 2400) {
  const bitmap = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, longest / Math.max(bitmap.width, bitmap.height));
  const canvas = node("canvas", { width: Math.round(bitmap.width * scale), height: Math.round(bitmap.height * scale) });
  canvas.getContext("2d").drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  return new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", 0.92));
}

// ---------------------------------------------------------------- what was typed

class Sheet {
  constructor(groups, values) {
    this.groups = groups;
    this.values = values;
  }
  rows(group) {
    if (Array.isArray(group.rows)) return group.rows.map((name) => ({ name }));
    if (group.rows !== "grow") return [{ name: "" }];
    const count = this.values[group.name]?.length ?? group.starts.length;
    return Array.from({ length: Math.max(1, count) }, (_, index) => ({ name: String(index + 1) }));
  }
  read(group, row, field) {
    const typed = this.typedRow(group, row)?.[field.name];
    if (typed !== undefined) return typed;
    return this.startRow(group, row)?.[field.name] ?? field.start ?? "";
  }
  typedRow(group, row) {
    const rows = this.values[group.name] ?? [];
    return Array.isArray(group.rows) ? rows.find((each) => each._row === row) : rows[group.rows === "grow" ? row - 1 : 0];
  }
  startRow(group, row) {
    if (Array.isArray(group.rows)) return group.starts.find((each) => each._row === row);
    return group.starts[group.rows === "grow" ? row - 1 : 0];
  }
  placeholder(group, row, field) {
    return this.startRow(group, row)?.[`${field.name}?`] ?? field.placeholder;
  }
  write(group, row, field, text) {
    if (group.rows === "grow") this.settle(group);
    const rows = (this.values[group.name] ??= []);
    let typed = this.typedRow(group, row);
    if (!typed) rows.push((typed = Array.isArray(group.rows) ? { _row: row } : {}));
    typed[field.name] = text;
  }
  settle(group) {
    if (!this.values[group.name]) this.values[group.name] = this.full(group);
  }
  full(group) {
    return this.rows(group).map(({ name }) => ({
      ...(Array.isArray(group.rows) ? { _row: name } : {}),
      ...Object.fromEntries(group.fields.map((field) => [field.name, this.read(group, name, field)])),
    }));
  }
  all() {
    return Object.fromEntries(this.groups.map((group) => [group.name, this.full(group)]));
  }
}

// ---------------------------------------------------------------- one input

let lastNumber = 0;

function input(desk, group, row, field) {
  const { sheet, faults } = desk;
  const path = [group.name, row, field.name].join("/");
  const name = [field.label, row].filter(Boolean).join(", ");
  const text = sheet.read(group, row, field);
  const fault = faults[path];
  const id = `labkit-${++lastNumber}`;
  const common = {
    id, "data-path": path, "aria-label": name, title: field.hint || null,
    "aria-invalid": fault ? "true" : null, "aria-describedby": fault ? `${id}-fault` : null,
  };
  const typed = (event) => desk.typed(group, row, field, event.target.value);
  let control;
  if (field.kind === "show") return node("span", { "data-path": path }, text);
  if (field.kind === "choice" && field.big) control = bigChoice(desk, group, row, field, common, text);
  else if (field.kind === "choice") control = node("select", { ...common, onchange: typed }, ...choices(field, text));
  else if (field.kind === "when") control = when(desk, group, row, field, common, text);
  else if (field.kind === "photo") control = photo(desk, group, row, field, common, text);
  else if (field.kind === "long") {
    control = node("textarea", { ...common, rows: 3, oninput: typed, placeholder: field.hint });
    control.value = text;
  } else control = oneLine(field, common, typed, text, id, sheet.placeholder(group, row, field));
  const message = fault ? node("div", { class: "labkit-fault", id: `${id}-fault` }, fault) : null;
  return node("span", { class: "labkit-cell" }, control, field.unit ? node("span", { class: "labkit-unit" }, field.unit) : null, message);
}

function oneLine(field, common, typed, text, id, placeholder) {
  const number = field.kind === "number";
  const box = node("input", {
    ...common, type: "text", inputmode: number ? "decimal" : null, autocomplete: "off", placeholder,
    class: number ? "labkit-number" : null, list: field.choices.length ? `${id}-list` : null, oninput: typed,
  });
  box.value = text;
  if (!field.choices.length) return box;
  return node("span", {}, box, node("datalist", { id: `${id}-list` }, ...field.choices.map((value) => node("option", { value }))));
}

function choices(field, text) {
  const known = field.choices.includes(text) ? field.choices : [text, ...field.choices];
  return known.map((value) => node("option", { value, selected: value === text }, value || "–"));
}

function bigChoice(desk, group, row, field, common, text) {
  const labels = field.choices.map((value) => {
    const radio = node("input", {
      type: "radio", name: common.id, value, "data-path": `${common["data-path"]}/${value}`,
      onchange: () => desk.typed(group, row, field, value, true),
    });
    radio.checked = value === text;
    return node("label", { class: "labkit-big" }, radio, value);
  });
  return node("span", { role: "radiogroup", id: common.id, "aria-label": common["aria-label"], class: "labkit-bigs" }, ...labels);
}

function when(desk, group, row, field, common, text) {
  if (!text) {
    const open = () => desk.typed(group, row, field, withOffset().slice(0, 16), true);
    const button = node("button", { ...common, type: "button", class: "labkit-plain", "aria-label": `${common["aria-label"]}: now. Change to earlier`, onclick: open }, "earlier…");
    return node("span", {}, "now ", button);
  }
  const box = node("input", { ...common, type: "datetime-local", oninput: (event) => desk.typed(group, row, field, event.target.value) });
  box.value = text.slice(0, 16);
  const back = node("button", { type: "button", class: "labkit-plain", onclick: () => desk.typed(group, row, field, "", true) }, "back to now");
  return node("span", {}, box, " ", back);
}

function photo(desk, group, row, field, common, text) {
  const chosen = async (event) => {
    const [file] = event.target.files;
    if (!file) return;
    desk.tell("Reading the photo…");
    try {
      const blob = await shrunkPhoto(file);
      desk.sendPhoto([group.name, row, field.name], await blob.arrayBuffer());
    } catch {
      desk.tell("This browser cannot read that picture. Set the camera to JPEG, or export the picture as JPEG, and choose it again.");
    }
  };
  const state = node("span", {}, text ? " photo kept " : " ");
  return node("span", {}, node("input", { ...common, type: "file", accept: "image/*", onchange: chosen }), state);
}

// ---------------------------------------------------------------- groups of inputs

function table(desk, group) {
  const named = Array.isArray(group.rows);
  const heads = group.fields.map((field) => node("th", { scope: "col" }, field.label));
  if (named) heads.unshift(node("th", { scope: "col" }, group.row_label));
  if (group.rows === "grow") heads.push(node("td", {}));
  const body = desk.sheet.rows(group).map(({ name }) => {
    const cells = group.fields.map((field) => node("td", {}, input(desk, group, name, field)));
    if (named) cells.unshift(node("th", { scope: "row" }, name));
    if (group.rows === "grow") cells.push(node("td", {}, remover(desk, group, name)));
    return node("tr", {}, ...cells);
  });
  const grow = group.rows !== "grow" ? null : node("button", { type: "button", class: "labkit-plain", "data-path": `${group.name}/+`, onclick: () => desk.grow(group) }, group.grow_label);
  return node("div", {}, node("table", {}, node("thead", {}, node("tr", {}, ...heads)), node("tbody", {}, ...body)), grow);
}

function remover(desk, group, row) {
  return node("button", { type: "button", class: "labkit-plain", "aria-label": `Remove row ${row}`, "data-path": `${group.name}/${row}/-`, onclick: () => desk.remove(group, row) }, "remove");
}

function lines(desk, group) {
  return node("div", { class: "labkit-lines" }, ...group.fields.map((field) => {
    const cell = input(desk, group, "", field);
    const control = cell.querySelector?.("input, select, textarea");
    const label = field.big || field.kind === "when" ? node("span", { class: "labkit-label" }, field.label)
      : node("label", { class: "labkit-label", for: control?.id }, field.label);
    const hint = field.hint && field.kind !== "long" ? node("span", { class: "labkit-hint" }, field.hint) : null;
    return node("div", { class: "labkit-line" }, label, cell, hint);
  }));
}

function section(desk, group) {
  const inner = group.rows ? table(desk, group) : lines(desk, group);
  const title = group.title ? node("legend", {}, group.title) : null;
  return node("fieldset", {}, title, group.intro ? node("p", {}, group.intro) : null, inner);
}

// ---------------------------------------------------------------- the form

class Desk {
  constructor(model, el) {
    this.model = model;
    this.el = el;
    this.moreOpen = false;
    this.waiting = null;
    this.status = node("div", { class: "labkit-say", role: "status", "aria-live": "polite" });
    this.body = node("div", {});
    el.classList.add("labkit-form");
    el.setAttribute("data-lm-suppress-shortcuts", "true");
    el.addEventListener("keydown", (event) => this.key(event));
    el.append(this.body, this.status);
    this.load();
  }
  get queueName() { return `labkit:press:${this.model.get("desk")}`; }
  get draftName() { return `labkit:draft:${this.model.get("desk")}:${this.model.get("key")}`; }
  load() {
    const here = recall(this.draftName, null);
    const there = this.model.get("draft");
    const kernelHas = there?.key === this.model.get("key") && there.values;
    const newest = here && (!kernelHas || here.at > there.at) ? here : kernelHas ? there : null;
    this.sheet = new Sheet(this.model.get("groups"), structuredClone(newest?.values ?? {}));
    this.faults = this.model.get("faults");
    this.draw();
    if (newest && newest === here) this.sendDraft();
    for (const press of recall(this.queueName, [])) this.send(press);
  }
  draw() {
    const active = this.el.contains(document.activeElement) ? document.activeElement : null;
    const path = active?.dataset?.path;
    const caret = active && active.type === "text" ? active.selectionStart : null;
    const groups = this.sheet.groups;
    const parts = groups.filter((group) => !group.more).map((group) => section(this, group));
    const hidden = groups.filter((group) => group.more).map((group) => section(this, group));
    if (hidden.length) parts.push(this.more(hidden));
    const title = this.model.get("title");
    const blocked = Object.keys(this.faults).length > 0;
    const press = node("button", { type: "button", class: "labkit-press", "data-path": "press", disabled: blocked || this.waiting !== null, onclick: () => this.press() }, this.model.get("press_label"));
    const say = blocked ? node("span", { class: "labkit-fault" }, " Mend the marked places first.") : null;
    this.body.replaceChildren(...(title ? [node("h3", {}, title)] : []), ...parts, node("div", { class: "labkit-foot" }, press, say));
    if (path) this.focus(path, caret);
  }
  focus(path, caret) {
    const again = [...this.body.querySelectorAll("[data-path]")].find((each) => each.dataset.path === path);
    again?.focus({ preventScroll: true });
    if (caret !== null && again?.type === "text") again.setSelectionRange(caret, caret);
  }
  more(hidden) {
    const details = node("details", { open: this.moreOpen, ontoggle: (event) => { this.moreOpen = event.target.open; } },
      node("summary", { "data-path": "more" }, this.model.get("more_label")), ...hidden);
    return details;
  }
  typed(group, row, field, text, redraw = false) {
    this.sheet.write(group, row, field, text);
    this.keepDraft();
    if (redraw) {
      this.draw();
      this.focus([group.name, row, field.name].join("/"), null);
    }
  }
  grow(group) {
    this.sheet.settle(group);
    this.sheet.values[group.name].push({});
    this.keepDraft();
    this.draw();
    this.focus([group.name, this.sheet.values[group.name].length, group.fields[0].name].join("/"), null);
  }
  remove(group, row) {
    this.sheet.settle(group);
    this.sheet.values[group.name].splice(row - 1, 1);
    this.keepDraft();
    this.draw();
    this.focus(`${group.name}/+`, null);
  }
  key(event) {
    event.stopPropagation();
    if (event.key !== "Enter" || event.target.tagName !== "INPUT" || event.target.type === "radio") return;
    event.preventDefault();
    if (event.shiftKey || event.ctrlKey || event.metaKey) return;
    const stops = [...this.body.querySelectorAll("input, select, textarea, .labkit-press")].filter((each) => each.offsetParent);
    stops[stops.indexOf(event.target) + 1]?.focus();
  }
  keepDraft() {
    this.draft = { key: this.model.get("key"), at: Date.now(), values: this.sheet.values };
    keep(this.draftName, this.draft);
    clearTimeout(this.draftTimer);
    this.draftTimer = setTimeout(() => this.sendDraft(), 300);
  }
  sendDraft() {
    this.model.set("draft", { key: this.model.get("key"), at: Date.now(), values: structuredClone(this.sheet.values) });
    this.model.save_changes();
  }
  press() {
    const press = { id: uuid7(), at: withOffset(), key: this.model.get("key"), values: this.sheet.all() };
    clearTimeout(this.draftTimer);
    keep(this.queueName, [...recall(this.queueName, []), press]);
    this.waiting = press.id;
    this.tell("Saving…");
    this.draw();
    this.send(press);
  }
  send(press) {
    try {
      this.model.send({ press });
    } catch {
      // No kernel to send to: the press stays in the queue and goes out again below.
    }
    this.resend ??= setTimeout(() => {
      this.resend = null;
      const left = recall(this.queueName, []);
      if (!left.length || !this.el.isConnected) return;
      this.tell("Not saved yet: the kernel does not answer. What you typed is kept in this browser and will be sent again.");
      left.forEach((each) => this.send(each));
    }, RESEND_MS);
  }
  sendPhoto(path, bytes) {
    this.model.send({ photo: { path } }, undefined, [bytes]);
  }
  tell(text, fault = false) {
    this.status.textContent = text;
    this.status.classList.toggle("labkit-fault", fault);
  }
  answered(message) {
    if (message.photo) return this.photoAnswered(message);
    const queue = recall(this.queueName, []);
    const press = queue.find((each) => each.id === message.id);
    keep(this.queueName, queue.filter((each) => each.id !== message.id));
    if (!press && this.waiting !== message.id) return;
    this.waiting = this.waiting === message.id ? null : this.waiting;
    this.faults = message.faults ?? {};
    if (message.saved && press) this.clear(press);
    this.tell(message.say, !message.saved);
    this.draw();
  }
  photoAnswered(message) {
    if (message.name) {
      const [group, row, field] = message.photo.path;
      const found = this.sheet.groups.find((each) => each.name === group);
      this.typed(found, row, found.fields.find((each) => each.name === field), message.name, true);
    }
    this.tell(message.say, !message.name);
  }
  clear(press) {
    const name = `labkit:draft:${this.model.get("desk")}:${press.key}`;
    if (press.key !== this.model.get("key")) return keep(name, null);
    if (JSON.stringify(this.sheet.all()) !== JSON.stringify(press.values)) return;
    keep(name, null);
    this.sheet.values = {};
  }
}

function render({ model, el }) {
  const desk = new Desk(model, el);
  const groupsChanged = () => {
    desk.sheet.groups = model.get("groups");
    desk.draw();
  };
  const faultsChanged = () => {
    desk.faults = model.get("faults");
    desk.draw();
  };
  const keyChanged = () => desk.load();
  const answered = (message) => desk.answered(message);
  model.on("change:groups", groupsChanged);
  model.on("change:faults", faultsChanged);
  model.on("change:key", keyChanged);
  model.on("msg:custom", answered);
  return () => {
    model.off("change:groups", groupsChanged);
    model.off("change:faults", faultsChanged);
    model.off("change:key", keyChanged);
    model.off("msg:custom", answered);
  };
}

export default { render };
