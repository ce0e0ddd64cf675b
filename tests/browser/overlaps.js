// Pieces of text in an element that lie over each other, and boxes that are narrower than what is in them. Drawings apart.
(root) => {
  const problems = [], lines = [];
  const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode;
    if (!node.data.trim() || node.parentElement.closest("svg")) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const box of range.getClientRects()) {
      const inset = box.height / 4; // letters fill about the middle half of a line's box
      if (box.width > 1) lines.push({ left: box.left + 1, right: box.right - 1, top: box.top + inset, bottom: box.bottom - inset, words: node.data.trim() });
    }
  }
  lines.forEach((one, at) => {
    for (const other of lines.slice(at + 1))
      if (one.left < other.right && other.left < one.right && one.top < other.bottom && other.top < one.bottom)
        problems.push(`"${one.words.slice(0, 60)}" lies over "${other.words.slice(0, 60)}"`);
  });
  for (const element of [document.documentElement, root, ...root.querySelectorAll("*")])
    if (!element.closest("svg") && element.clientWidth > 0 && element.scrollWidth > element.clientWidth + 1)
      problems.push(`${element.tagName} ${element.className}: ${element.scrollWidth} px in ${element.clientWidth} px`);
  return { problems, lines: lines.length };
}
