// What is typed into a form, and the browser's own store for it. Stands in front of form.js.

function uuid7() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  const now = Date.now();
  for (let i = 0; i < 6; i++) bytes[i] = Math.floor(now / 2 ** (8 * (5 - i))) % 256;
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

// A time as this browser's clock shows it on that day, with its offset from UTC.
function withOffset(date = new Date()) {
  const minutes = -date.getTimezoneOffset();
  const pad = (number) => String(Math.abs(number)).padStart(2, "0");
  const sign = minutes < 0 ? "-" : "+";
  const shifted = new Date(date.getTime() + minutes * 60000).toISOString().slice(0, 19);
  return shifted + sign + pad(Math.trunc(minutes / 60)) + ":" + pad(minutes % 60);
}

// What a field for a time shows, and what it gives: NOT_WHOLE where a part of it is missing.
const NOT_WHOLE = "?";

function shownTime(text) {
  const date = new Date(text);
  return text && !isNaN(date) ? withOffset(date).slice(0, 16) : "";
}

function typedTime(box) {
  const date = new Date(box.value);
  if (!box.value || isNaN(date)) return NOT_WHOLE;
  const whole = withOffset(date);
  return whole.slice(0, 16) + whole.slice(19);
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

