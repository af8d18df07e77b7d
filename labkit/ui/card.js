// A card on the screen, and the same card alone on paper.

function print(model) {
  const frame = document.createElement("iframe");
  frame.style.cssText = "position:fixed;width:0;height:0;border:0";
  frame.setAttribute("aria-hidden", "true");
  document.body.append(frame);
  const page = frame.contentDocument;
  page.documentElement.innerHTML = `<head><style>${model.get("print_style")}</style></head><body></body>`;
  page.body.innerHTML = model.get("html");
  frame.contentWindow.addEventListener("afterprint", () => frame.remove());
  frame.contentWindow.print();
}

function render({ model, el }) {
  const card = document.createElement("div");
  const button = document.createElement("button");
  button.type = "button";
  button.className = "labkit-plain";
  button.textContent = "Print this card";
  button.addEventListener("click", () => print(model));
  el.classList.add("labkit-form");
  el.setAttribute("data-lm-suppress-shortcuts", "true");
  el.append(card, button);
  const show = () => {
    card.innerHTML = model.get("html");
    button.hidden = !model.get("html").trim() || !model.get("printable");
  };
  show();
  model.on("change:html change:printable", show);
  return () => model.off("change:html change:printable", show);
}

export default { render };
