"""Texts of a panel that are hard to read: WCAG 2.2, success criterion 1.4.3, 4.5 to 1.

Relative luminance and contrast ratio are those of https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio;
a text that is partly transparent is mixed with what lies behind it first.
"""

THEMES = ("JupyterLab Light", "JupyterLab Dark")
WEAK = """() => {
    const parse = (colour) => (colour.match(/[\\d.]+/g) || []).map(Number);
    const light = ([r, g, b]) => [r, g, b].map((each) => each / 255)
        .map((each) => each <= 0.04045 ? each / 12.92 : ((each + 0.055) / 1.055) ** 2.4)
        .reduce((sum, each, index) => sum + each * [0.2126, 0.7152, 0.0722][index], 0);
    const behind = (node) => {
        for (let each = node; each; each = each.parentElement) {
            const colour = parse(getComputedStyle(each).backgroundColor);
            if (colour.length === 3 || colour[3] === 1) return colour;
        }
        return [255, 255, 255];
    };
    const mixed = ([r, g, b, a = 1], back) =>
        [r, g, b].map((each, index) => a * each + (1 - a) * back[index]);
    const texts = [...document.querySelectorAll('.labkit-panel *')].filter((node) => node.checkVisibility()
        && [...node.childNodes].some((child) => child.nodeType === 3 && child.textContent.trim()));
    return texts.filter((node) => {
        const back = behind(node);
        const pair = [light(mixed(parse(getComputedStyle(node).color), back)), light(back)];
        return (Math.max(...pair) + 0.05) / (Math.min(...pair) + 0.05) < 4.5;
    }).map((node) => node.outerHTML.slice(0, 120));
}"""


def weak_texts(page, theme: str) -> list[str]:
    """The markup of the panel's texts that are hard to read in this theme of the lab."""
    page.evaluate("(theme) => jupyterapp.commands.execute('apputils:change-theme', {theme})", theme)
    shown = "true" if theme == THEMES[0] else "false"
    page.wait_for_selector(f"body[data-jp-theme-light='{shown}']", state="attached")
    return page.evaluate(WEAK)
