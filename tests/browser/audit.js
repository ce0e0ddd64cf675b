// What is wrong with the page that is open, as sentences. Run in the page by audit.py; knows nothing of Beaconry.
() => {
  const problems = [];
  const say = (what, element) => problems.push(`${what}: ${element.outerHTML.replace(/\s+/g, " ").slice(0, 160)}`);
  const shown = (element) => element.checkVisibility({ visibilityProperty: true });
  const text = (element) => (element?.textContent ?? "").trim();
  const referred = (element, attribute) =>
    (element.getAttribute(attribute) ?? "").split(" ").map((id) => text(document.getElementById(id))).join(" ").trim();
  const named = (element) => element.getAttribute("aria-label")?.trim() || referred(element, "aria-labelledby");

  if (document.documentElement.lang !== "en") problems.push("the page does not say its language");
  if (!/\S.* – Beaconry$/.test(document.title)) problems.push(`title: ${document.title}`);
  if (document.querySelectorAll("h1").length !== 1) problems.push(`${document.querySelectorAll("h1").length} headings of level 1`);
  if (document.querySelectorAll("main").length !== 1) problems.push("not exactly one main part");

  let level = 0;
  for (const heading of document.querySelectorAll("h1, h2, h3, h4")) {
    const next = Number(heading.tagName[1]);
    if (next > level + 1) say("heading skips a level", heading);
    if (!text(heading)) say("empty heading", heading);
    level = next;
  }
  const ids = [...document.querySelectorAll("[id]")].map((element) => element.id);
  ids.filter((id, at) => ids.indexOf(id) !== at).forEach((id) => problems.push(`two elements have the id ${id}`));
  for (const attribute of ["aria-labelledby", "aria-describedby", "for"])
    for (const element of document.querySelectorAll(`[${attribute}]`))
      for (const id of element.getAttribute(attribute).split(" ")) if (!document.getElementById(id)) say(`${attribute} leads nowhere`, element);

  for (const field of document.querySelectorAll("input:not([type=hidden]), select, textarea"))
    if (!named(field) && ![...field.labels].some(text)) say("field without a name", field);
  for (const pressed of document.querySelectorAll("button, a[href], summary"))
    if (!named(pressed) && !text(pressed) && !pressed.querySelector("img[alt]:not([alt=''])")) say("button or link without a name", pressed);
  for (const image of document.querySelectorAll("img:not([alt])")) say("image without alt", image);
  for (const drawing of document.querySelectorAll("svg:not([aria-hidden=true])"))
    if (!drawing.parentElement.closest("svg") && !(drawing.getAttribute("role") === "img" && named(drawing))) say("drawing without a name", drawing);
  for (const heading of document.querySelectorAll("th:not([scope])")) say("table heading without scope", heading);
  for (const table of document.querySelectorAll("table"))
    if (!text(table.caption) && !named(table) && !named(table.closest("section") ?? table)) say("table without a caption", table);

  if (document.documentElement.scrollWidth > window.innerWidth)
    problems.push(`the page is ${document.documentElement.scrollWidth} px wide in a window of ${window.innerWidth} px`);

  // Contrast: WCAG 2.2, success criterion 1.4.3, with relative luminance as defined there
  const channels = (colour) => colour.match(/[\d.]+/g).map(Number);
  const linear = (value) => (value / 255 <= 0.04045 ? value / 255 / 12.92 : ((value / 255 + 0.055) / 1.055) ** 2.4);
  const luminance = ([r, g, b]) => 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
  const ground = (element) => {
    for (let one = element; one; one = one.parentElement) {
      const colour = channels(getComputedStyle(one).backgroundColor);
      if (colour.length === 3 || colour[3] === 1) return colour;
    }
    return [255, 255, 255];
  };
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const told = new Set();
  while (walker.nextNode()) {
    const element = walker.currentNode.parentElement;
    if (!walker.currentNode.data.trim() || element.closest("svg, :disabled, option") || !shown(element)) continue;
    const [one, other] = [luminance(channels(getComputedStyle(element).color)), luminance(ground(element))];
    const contrast = (Math.max(one, other) + 0.05) / (Math.min(one, other) + 0.05);
    const key = `${element.tagName}.${element.className}`;
    if (contrast < 4.5 && !told.has(key)) say(`contrast ${contrast.toFixed(2)}`, element);
    told.add(key);
  }
  return problems;
}
