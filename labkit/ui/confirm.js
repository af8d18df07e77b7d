// A button that asks before it does what it says. “No” and Escape leave everything as it was.

function button(kind, pressed) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = kind;
  made.addEventListener("click", pressed);
  return made;
}

function render({ model, el }) {
  const question = document.createElement("span");
  question.id = `labkit-${crypto.randomUUID?.() ?? Math.random()}`;
  const first = button("labkit-plain", () => ask(true));
  const yes = button("labkit-grave", () => {
    ask(false);
    model.send({ yes: true });
  });
  const no = button("labkit-plain", () => ask(false));
  no.textContent = "No";
  const asked = document.createElement("div");
  asked.className = "labkit-ask";
  asked.setAttribute("role", "group");
  asked.setAttribute("aria-labelledby", question.id);
  asked.append(question, yes, no);

  const ask = (asking) => {
    const here = el.contains(document.activeElement);
    first.hidden = asking;
    asked.hidden = !asking;
    if (here) (asking ? no : first).focus();
  };
  const say = () => {
    first.textContent = model.get("label");
    question.textContent = model.get("question");
    yes.textContent = model.get("yes");
    ask(false);
  };
  el.classList.add("labkit-form");
  el.setAttribute("data-lm-suppress-shortcuts", "true");
  el.addEventListener("keydown", (event) => {
    event.stopPropagation();
    if (event.key === "Escape" && !asked.hidden) ask(false);
  });
  el.append(first, asked);
  say();
  model.on("change", say);
  return () => model.off("change", say);
}

export default { render };
