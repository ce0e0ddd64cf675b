// What a page gains with scripts on. Every page works without this file.

// Shows "working" on a form that takes long, and keeps a second click from sending it twice.
export function tellWorking(form) {
  form.addEventListener("submit", (event) => {
    if (form.classList.contains("sent")) event.preventDefault();
    form.classList.add("sent");
  });
  window.addEventListener("pageshow", () => form.classList.remove("sent"));
}

// Adds a search box over a table: only rows that hold what is typed stay visible.
export function filterRows(table) {
  const label = document.createElement("label");
  const box = document.createElement("input");
  label.textContent = table.dataset.filter + " ";
  box.type = "search";
  label.append(box);
  box.addEventListener("input", () => {
    const wanted = box.value.trim().toLowerCase();
    for (const row of table.tBodies[0].rows) row.hidden = !row.textContent.toLowerCase().includes(wanted);
  });
  table.before(label);
}

// Asks before a form with data-ask is sent.
export function askFirst(form) {
  form.addEventListener("submit", (event) => {
    if (!window.confirm(form.dataset.ask)) {
      event.preventDefault();
      event.stopImmediatePropagation();
    }
  });
}

// Keeps a line of progress up to date until there is nothing more to tell; then, if asked to, opens the page afresh.
export async function follow(line) {
  const answer = await fetch(line.dataset.follow).catch(() => null);
  const words = answer?.ok ? await answer.text() : "";
  line.textContent = words;
  if (words || !answer?.ok) setTimeout(() => follow(line), 2000);
  else if (line.dataset.then === "reload") window.location.reload();
}

document.querySelectorAll("[data-follow]").forEach((line) => setTimeout(() => follow(line), 2000));
document.querySelectorAll("form[data-ask]").forEach(askFirst);
document.querySelectorAll("form[data-long]").forEach(tellWorking);
document.querySelectorAll("table[data-filter]").forEach(filterRows);

// The Morse ident of a beacon can be heard.
const morsePlayer = document.querySelector("[data-signals]");
if (morsePlayer?.dataset.signals) import("./morse.js").then((morse) => morse.begin(morsePlayer));
