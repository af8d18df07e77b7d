// Drawing a form anew around the control that has the focus. Stands in front of form.js.

const CONTROLS = ":is(input, select, textarea, button)[data-path]";

function at(body, path) {
  return [...body.querySelectorAll("[data-path]")].find((each) => each.dataset.path === path);
}

function isShown(node) {
  return node.checkVisibility?.() ?? node.offsetParent !== null;
}

// The control at the place of a fault; of a choice with large buttons the first of them.
function faulty(body, path) {
  return at(body, path) ?? [...body.querySelectorAll(CONTROLS)].find((each) => each.dataset.path.startsWith(`${path}/`));
}

function upTo(top, node) {
  const way = [];
  for (let each = node; each !== top; each = each.parentNode) way.push(each);
  return way;
}

function takeAttributes(old, fresh) {
  for (const { name } of [...old.attributes]) if (!fresh.hasAttribute(name)) old.removeAttribute(name);
  for (const { name, value } of fresh.attributes) if (old.getAttribute(name) !== value) old.setAttribute(name, value);
}

function takeState(old, fresh) {
  if (["BUTTON", "SELECT"].includes(old.tagName) && old.innerHTML !== fresh.innerHTML) old.replaceChildren(...fresh.childNodes);
  if (old.type === "radio") old.checked = fresh.checked;
  else if (old.type !== "file" && old.tagName !== "BUTTON" && old.value !== fresh.value) old.value = fresh.value;
}

// Put what `fresh` holds into `body`. The control that has the focus stays the same node, so that a half
// typed time, the caret, an open list and the focus stay with it; everything around it is replaced.
function renew(body, fresh) {
  const active = body.contains(document.activeElement) ? document.activeElement : null;
  const twin = active?.dataset.path ? at(fresh, active.dataset.path) : null;
  const [olds, twins] = twin ? [upTo(body, active), upTo(fresh, twin)] : [[], []];
  if (!twin || olds.map((each) => each.tagName + each.type).join() !== twins.map((each) => each.tagName + each.type).join()) {
    body.replaceChildren(...fresh.childNodes);
    if (active) (twin ?? body.querySelector(".labkit-press")).focus({ preventScroll: true });
    return;
  }
  takeState(active, twin);
  olds.forEach((old, index) => {
    const all = [...twins[index].parentNode.childNodes];
    const place = all.indexOf(twins[index]);
    for (const each of [...old.parentNode.childNodes]) if (each !== old) each.remove();
    old.before(...all.slice(0, place));
    old.after(...all.slice(place + 1));
    takeAttributes(old, twins[index]);
  });
}

