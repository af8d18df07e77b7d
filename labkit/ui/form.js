// A form that loses nothing: what is typed stays in this browser until the kernel has it on disk.

const RESEND_MS = 4000;
// After a save the button rests for as long as a second tap on it could take.
const REST_MS = 500;

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
  if (field.kind === "show") return node("span", { class: "labkit-show", "data-path": path }, text);
  if (field.kind === "choice" && field.big) control = bigChoice(desk, group, row, field, common, text);
  else if (field.kind === "choice") control = node("select", { ...common, onchange: typed }, ...choices(field, text));
  else if (field.kind === "when") control = when(desk, group, row, field, common, text);
  else if (field.kind === "tick") control = tick(desk, group, row, field, common, text);
  else if (field.kind === "colour") control = colour(desk, group, row, field, common, typed, text, id);
  else if (field.kind === "photo") control = photo(desk, group, row, field, common, text);
  else if (field.kind === "long") {
    control = node("textarea", { ...common, rows: 3, oninput: typed, placeholder: field.hint });
    control.value = text;
  } else control = oneLine(field, common, typed, text, id, sheet.placeholder(group, row, field));
  const message = fault ? node("div", { class: "labkit-fault", id: `${id}-fault` }, fault) : null;
  const unit = field.unit ? node("span", { class: "labkit-unit" }, field.unit) : null;
  const together = unit ? node("span", { class: "labkit-with-unit" }, control, unit) : control;
  return node("span", { class: "labkit-cell" }, together, message);
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

const CODE = /^#[0-9a-f]{6}$/i;

// A colour as text, and the browser's own chooser that writes its code there.
function colour(desk, group, row, field, common, typed, text, id) {
  const box = oneLine(field, common, typed, text, id, "#");
  const chooser = node("input", {
    type: "color", "aria-label": `choose ${field.label}`, class: "labkit-chooser", "data-path": `${common["data-path"]}/chooser`,
    onchange: (event) => desk.typed(group, row, field, event.target.value, true),
  });
  box.addEventListener("input", () => { if (CODE.test(box.value.trim())) chooser.value = box.value.trim().toLowerCase(); });
  chooser.value = CODE.test(text.trim()) ? text.trim().toLowerCase() : "#a03030";
  return node("span", { class: "labkit-with-unit" }, box, chooser);
}

function tick(desk, group, row, field, common, text) {
  const box = node("input", {
    ...common, type: "checkbox", onchange: (event) => desk.typed(group, row, field, event.target.checked ? "yes" : ""),
  });
  box.checked = Boolean(text);
  return node("label", { class: "labkit-big" }, box, field.label);
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
  return node("span", { role: "radiogroup", id: common.id, "aria-label": common["aria-label"], "aria-describedby": common["aria-describedby"], class: "labkit-bigs" }, ...labels);
}

function nowToTheMinute() {
  const now = withOffset();
  return now.slice(0, 16) + now.slice(19);
}

function when(desk, group, row, field, common, text) {
  if (!text) {
    const open = () => desk.typed(group, row, field, nowToTheMinute(), true);
    const button = node("button", { ...common, type: "button", class: "labkit-plain", "aria-label": `${common["aria-label"]}: now. Change to earlier`, onclick: open }, "earlier…");
    return node("span", {}, "now ", button);
  }
  const box = node("input", {
    ...common, type: "datetime-local", max: "9999-12-31T23:59",
    oninput: (event) => desk.typed(group, row, field, typedTime(event.target)),
  });
  box.value = shownTime(text);
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
  const file = node("input", { ...common, type: "file", accept: "image/*", onchange: chosen });
  return node("span", { class: "labkit-photo" }, file, ...(text ? keptPhoto(desk, group, row, field, common, text) : []));
}

function keptPhoto(desk, group, row, field, common, name) {
  const off = node("button", {
    type: "button", class: "labkit-plain", "data-path": `${common["data-path"]}/-`,
    onclick: () => desk.typed(group, row, field, "", true),
  }, "take the photo off");
  const small = desk.look(name);
  return [small ? node("img", { class: "labkit-look", src: small, alt: "The photo that is kept" }) : null, node("span", {}, "a photo is kept"), off];
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
  const ticks = group.fields.every((field) => field.kind === "tick");
  return node("div", { class: ticks ? "labkit-bigs" : "labkit-lines" }, ...group.fields.map((field) => {
    const cell = input(desk, group, "", field);
    if (field.kind === "tick") return cell;
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
    this.resting = false;
    this.looks = {};
    this.status = node("div", { class: "labkit-say", role: "status", "aria-live": "polite" });
    this.body = node("div", {});
    el.classList.add("labkit-form");
    el.setAttribute("data-lm-suppress-shortcuts", "true");
    el.addEventListener("keydown", (event) => this.key(event));
    el.addEventListener("focusin", () => { this.focused = true; });
    el.addEventListener("focusout", () => { this.focused = !el.offsetParent && this.focused; });
    this.hiding = new ResizeObserver(() => this.goOnIfHidden());
    this.hiding.observe(el);
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
    if (this.waiting === null && !this.resting) this.tell("");
    this.draw();
    if (newest && !newest.shown) this.sendDraft();
    for (const press of recall(this.queueName, [])) this.send(press);
  }
  draw() {
    const groups = this.sheet.groups;
    const parts = groups.filter((group) => !group.more).map((group) => section(this, group));
    const hidden = groups.filter((group) => group.more).map((group) => section(this, group));
    if (hidden.length) parts.push(this.more(hidden));
    const title = this.model.get("title");
    const blocked = Object.keys(this.faults).length > 0;
    const press = node("button", {
      type: "button", class: "labkit-press", "data-path": "press", onclick: (event) => this.pressed(event),
      "aria-disabled": blocked || this.waiting !== null || this.resting ? "true" : null,
    }, this.model.get("press_label"));
    const say = blocked ? node("span", { class: "labkit-fault" }, " Mend the marked places first.") : null;
    renew(this.body, node("div", {}, title ? node("h3", {}, title) : null, ...parts, node("div", { class: "labkit-foot" }, press, say)));
  }
  focus(path) {
    const place = at(this.body, path) ?? (this.body.contains(document.activeElement) ? null : at(this.body, "press"));
    place?.focus({ preventScroll: true });
  }
  get first() {
    const controls = [...this.body.querySelectorAll(CONTROLS)].filter(isShown);
    return controls.find((each) => each.type !== "radio" || each.checked) ?? controls[0];
  }
  // A form that is hidden once it is saved hands the focus on to the next one, not to the top of the page.
  goOnIfHidden() {
    if (this.el.offsetParent || !this.focused) return;
    this.focused = false;
    if (document.activeElement !== document.body && !this.el.contains(document.activeElement)) return;
    const panel = this.el.closest(".labkit-panel") ?? document;
    const controls = [...panel.querySelectorAll(".labkit-form :is(input, select, textarea, button)")];
    controls.find((each) => isShown(each) && this.el.compareDocumentPosition(each) & Node.DOCUMENT_POSITION_FOLLOWING)?.focus();
  }
  // The message can be here before the groups are, or while the form is still hidden.
  show(tries = 60) {
    requestAnimationFrame(() => {
      if (!this.el.offsetParent) return tries && this.show(tries - 1);
      this.el.scrollIntoView({ block: "start" });
      this.first?.focus({ preventScroll: true });
    });
  }
  more(hidden) {
    const details = node("details", { open: this.moreOpen, ontoggle: (event) => { this.moreOpen = event.target.open; } },
      node("summary", { "data-path": "more" }, this.model.get("more_label")), ...hidden);
    return details;
  }
  // A control that kept the focus may be older than the groups: what it belongs to is looked up by name.
  current(group) {
    return this.sheet.groups.find((each) => each.name === group.name) ?? group;
  }
  typed(group, row, field, text, redraw = false) {
    this.sheet.write(this.current(group), row, field, text);
    this.keepDraft();
    if (this.waiting === null) this.tell("");
    if (!redraw) return;
    this.draw();
    this.focus([group.name, row, field.name].join("/"));
  }
  grow(grown) {
    const group = this.current(grown);
    this.sheet.settle(group);
    this.sheet.values[group.name].push({});
    this.keepDraft();
    this.draw();
    this.focus([group.name, this.sheet.values[group.name].length, group.fields[0].name].join("/"));
  }
  remove(group, row) {
    this.sheet.settle(this.current(group));
    this.sheet.values[group.name].splice(row - 1, 1);
    this.keepDraft();
    this.draw();
    this.focus(`${group.name}/+`);
  }
  key(event) {
    event.stopPropagation();
    if (event.repeat && event.target.tagName === "BUTTON" && event.key !== "Tab") return event.preventDefault();
    if (event.key !== "Enter" || event.target.tagName !== "INPUT" || event.target.type === "radio") return;
    event.preventDefault();
    if (event.shiftKey || event.ctrlKey || event.metaKey) return;
    const stops = [...this.body.querySelectorAll("input, select, textarea, .labkit-press")].filter(isShown);
    stops[stops.indexOf(event.target) + 1]?.focus();
  }
  keepDraft() {
    this.draft = { key: this.model.get("key"), at: Date.now(), values: this.sheet.values };
    keep(this.draftName, this.draft);
    clearTimeout(this.draftTimer);
    this.draftTimer = setTimeout(() => this.sendDraft(), 300);
  }
  sendDraft() {
    this.model.set("draft", {
      key: this.model.get("key"), at: Date.now(), values: structuredClone(this.sheet.values), shown: this.sheet.all(),
    });
    this.model.save_changes();
  }
  // A second click of a double click and a key held down mean the first press.
  pressed(event) {
    if (event.detail > 1 || this.waiting !== null || this.resting) return;
    if (Object.keys(this.faults).length) this.focusFault();
    else this.press();
  }
  focusFault() {
    const marked = Object.keys(this.faults).map((path) => faulty(this.body, path)).find((each) => each);
    marked?.closest("details")?.setAttribute("open", "");
    marked?.focus();
  }
  press() {
    const press = { id: uuid7(), at: withOffset(), key: this.model.get("key"), values: this.sheet.all() };
    clearTimeout(this.draftTimer);
    keep(this.queueName, [...recall(this.queueName, []), press]);
    this.waiting = press.id;
    this.stood = { id: press.id, typed: JSON.stringify(this.sheet.values) };
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
  // What the lab read somewhere else, typed into the single lines of these names.
  fill(texts) {
    for (const group of this.sheet.groups.filter((each) => each.rows === null)) {
      for (const field of group.fields) if (field.name in texts) this.sheet.write(group, "", field, texts[field.name]);
    }
    this.keepDraft();
    this.draw();
  }
  // Where the small copy of a kept photo is, asked for once.
  look(name) {
    if (!(name in this.looks)) {
      this.looks[name] = "";
      this.model.send({ look: name });
    }
    return this.looks[name];
  }
  looked(message, buffers) {
    if (message.say) return this.tell(message.say, true);
    this.looks[message.look] = URL.createObjectURL(new Blob(buffers, { type: "image/jpeg" }));
    this.draw();
  }
  sendPhoto(path, bytes) {
    this.model.send({ photo: { path } }, undefined, [bytes]);
  }
  tell(text, fault = false) {
    this.status.textContent = text;
    this.status.classList.toggle("labkit-fault", fault);
  }
  unsay() {
    if (this.waiting === null && !this.status.classList.contains("labkit-fault")) this.tell("");
  }
  answered(message, buffers) {
    if (message.view) return this.show();
    if (message.fill) return this.fill(message.fill);
    if (message.unsay) return this.unsay();
    if (message.look) return this.looked(message, buffers);
    if (message.photo) return this.photoAnswered(message);
    const queue = recall(this.queueName, []);
    const press = queue.find((each) => each.id === message.id);
    keep(this.queueName, queue.filter((each) => each.id !== message.id));
    if (!press && this.waiting !== message.id) return;
    this.waiting = this.waiting === message.id ? null : this.waiting;
    if (!press || press.key === this.model.get("key")) this.faults = message.faults ?? {};
    if (message.saved && press) this.clear(press);
    if (message.saved) this.rest();
    this.tell(message.say, !message.saved);
    this.draw();
    if (this.body.contains(document.activeElement)) this.focusFault();
  }
  rest() {
    this.resting = true;
    setTimeout(() => {
      this.resting = false;
      this.draw();
    }, REST_MS);
  }
  photoAnswered(message) {
    if (message.name) {
      const [group, row, field] = message.photo.path;
      const found = this.sheet.groups.find((each) => each.name === group);
      this.typed(found, row, found.fields.find((each) => each.name === field), message.name);
      this.draw();
    }
    this.tell(message.say, !message.name);
  }
  close() {
    this.hiding.disconnect();
    Object.values(this.looks).forEach((each) => URL.revokeObjectURL(each));
  }
  // Whether more was typed after a press. What the form itself fills in may change with the answer.
  typedSince(press) {
    if (this.stood?.id === press.id) return JSON.stringify(this.sheet.values) !== this.stood.typed;
    return JSON.stringify(this.sheet.all()) !== JSON.stringify(press.values);
  }
  clear(press) {
    const name = `labkit:draft:${this.model.get("desk")}:${press.key}`;
    if (press.key !== this.model.get("key")) return keep(name, null);
    if (this.typedSince(press)) return;
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
  const answered = (message, buffers) => desk.answered(message, buffers);
  model.on("change:groups", groupsChanged);
  model.on("change:faults", faultsChanged);
  model.on("change:key", keyChanged);
  model.on("msg:custom", answered);
  return () => {
    desk.close();
    model.off("change:groups", groupsChanged);
    model.off("change:faults", faultsChanged);
    model.off("change:key", keyChanged);
    model.off("msg:custom", answered);
  };
}

export default { render };
