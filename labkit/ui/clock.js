// Minutes and seconds since what was and until what is to come, counted in the browser.

function spoken(ms) {
  const seconds = Math.floor(Math.abs(ms) / 1000);
  const [hours, minutes] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60];
  if (hours >= 48) return `${Math.floor(hours / 24)} days`;
  const two = (number) => String(number).padStart(2, "0");
  return hours ? `${hours}:${two(minutes)}:${two(seconds % 60)}` : `${minutes}:${two(seconds % 60)}`;
}

function told(each, coming) {
  const away = new Date(each.at) - Date.now();
  if (!coming) return spoken(Math.min(away, 0));
  return away > 0 ? `in ${spoken(away)}` : `${spoken(away)} ago`;
}

function line(each, coming) {
  const node = document.createElement("div");
  const label = document.createElement("span");
  const time = document.createElement("strong");
  label.textContent = each.label;
  node.append(label, time);
  node.className = coming ? "labkit-coming" : "";
  return { node, tick: () => { time.textContent = told(each, coming); } };
}

function render({ model, el }) {
  const clock = document.createElement("div");
  clock.className = "labkit-clock";
  clock.setAttribute("role", "timer");
  clock.setAttribute("aria-live", "off");
  el.append(clock);
  let lines = [];
  const tick = () => lines.forEach((each) => each.tick());
  const show = () => {
    lines = [...model.get("since").map((each) => line(each, false)), ...model.get("until").map((each) => line(each, true))];
    clock.replaceChildren(...lines.map((each) => each.node));
    tick();
  };
  show();
  model.on("change:since change:until", show);
  const timer = setInterval(tick, 1000);
  return () => { clearInterval(timer); model.off("change:since change:until", show); };
}

export default { render };
