// What is chosen in a closed list can be read whole, however narrow the list is.

const REACHED = ["pointerover", "focusin", "change"];

function tell({ target }) {
  if (target.tagName === "SELECT" && target.closest(".labkit-panel")) target.title = target.selectedOptions[0]?.text ?? "";
}

function render() {
  REACHED.forEach((each) => document.addEventListener(each, tell));
  return () => REACHED.forEach((each) => document.removeEventListener(each, tell));
}

export default { render };
