/* Help for the hand, nothing more: every page works without this file.

   Forms        a POST form is sent once (data-repeat lifts this); data-guard warns before typed words are left behind
   Rows         data-formset="PREFIX" holds [data-rows], <template data-blank> with __prefix__ and a [data-add] button
   Split        [data-split] in a [data-row] copies the row and halves its [data-halve] amounts, odd cent first
   Sums         data-plus / data-minus / data-equals="NAME …" on amounts; <output data-difference="NAME"> tells how far apart
                (its data-even, data-short and data-over are the words; {amount} is filled in) */

const cents = (text) => {
  const typed = text.replace(/[\s$€£]/g, "").replace(/[−–]/, "-").replace(/^\((.*)\)$/, "-$1");
  const isComma = /^-?(\d*|\d{1,3}(\.\d{3})+),\d{1,2}$/.test(typed);
  const plain = isComma ? typed.replaceAll(".", "").replace(",", ".") : typed.replaceAll(",", "");
  const parts = /^(-?)(\d*)(?:\.(\d{1,2}))?$/.exec(plain);
  if (!parts || !(parts[2] || parts[3])) return plain === "" ? 0 : NaN;
  return (parts[1] ? -1 : 1) * (Number(parts[2]) * 100 + Number((parts[3] || "").padEnd(2, "0")));
};

const words = (amount) => {
  const size = String(Math.abs(amount)).padStart(3, "0");
  return `${amount < 0 ? "-" : ""}${size.slice(0, -2)}.${size.slice(-2)}`;
};

const counts = (input) => !input.closest("[data-row]")?.querySelector("input[name$='-DELETE']:checked");

const total = (form, kind, name) =>
  [...form.querySelectorAll(`[data-${kind}~="${name}"]`)].filter(counts).reduce((sum, input) => sum + cents(input.value), 0);

function showSums(form) {
  for (const output of form.querySelectorAll("output[data-difference]")) {
    const name = output.dataset.difference;
    const goal = total(form, "equals", name);
    const gap = goal - total(form, "plus", name) + total(form, "minus", name);
    const known = Number.isFinite(gap) && goal !== 0;
    const phrase = gap === 0 ? output.dataset.even : gap > 0 ? output.dataset.short : output.dataset.over;
    const shown = known ? phrase.replace("{amount}", words(Math.abs(gap))) : "";
    if (output.textContent !== shown) output.textContent = shown;
    output.classList.toggle("even", known && gap === 0);
    output.classList.toggle("off", known && gap !== 0);
  }
}

function addRow(set) {
  const count = set.querySelector(`[name="${set.dataset.formset}-TOTAL_FORMS"]`);
  const blank = set.querySelector("template[data-blank]");
  const holder = document.createElement("template");
  holder.innerHTML = blank.innerHTML.replaceAll("__prefix__", count.value);
  const row = holder.content.firstElementChild;
  set.querySelector("[data-rows]").append(row);
  count.value = Number(count.value) + 1;
  return row;
}

/* On a phone an empty row is a screen to scroll past; the button brings it back. */
function leaveOneRow(set) {
  const blank = set.querySelector("template[data-blank]")?.content.firstElementChild;
  const count = set.querySelector(`[name="${set.dataset.formset}-TOTAL_FORMS"]`);
  const rows = [...set.querySelectorAll("[data-row]")];
  if (!blank || !window.matchMedia("(max-width: 56.24rem)").matches) return;
  const isEmpty = (row) => fields(row).every((input, at) => input.value === fields(blank)[at]?.value);
  while (rows.length > 1 && isEmpty(rows.at(-1))) {
    rows.pop().remove();
    count.value = rows.length;
  }
}

const fields = (row) => [...row.querySelectorAll("input, select, textarea")];

const bare = (input) => input.name.replace(/-\d+-/, "-");

function splitRow(row) {
  const copy = addRow(row.closest("[data-formset]"));
  const twins = fields(copy);
  for (const input of fields(row)) {
    const twin = twins.find((other) => bare(other) === bare(input) && (input.type !== "radio" || other.value === input.value));
    if (!twin || input.type === "hidden" || input.type === "file") continue;
    if (input.type === "checkbox" || input.type === "radio") twin.checked = input.checked;
    else twin.value = input.value;
    const amount = cents(input.value);
    if ("halve" in input.dataset && Number.isFinite(amount)) {
      const half = Math.trunc(amount / 2);
      twin.value = words(half);
      input.value = words(amount - half);
    }
  }
  row.after(copy);
  return copy;
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-add], [data-split]");
  const set = button?.closest("[data-formset]");
  if (!set?.querySelector("template[data-blank]")) return;
  event.preventDefault();
  const row = button.matches("[data-split]") ? splitRow(button.closest("[data-row]")) : addRow(set);
  row.querySelector("input:not([type=hidden]), select, textarea")?.focus();
  set.dispatchEvent(new Event("input", { bubbles: true }));
});

const touched = new Set();

document.addEventListener("input", (event) => {
  const form = event.target.closest("form");
  if (!form) return;
  if ("guard" in form.dataset) touched.add(form);
  showSums(form);
});

window.addEventListener("beforeunload", (event) => {
  if ([...touched].some((form) => form.isConnected)) event.preventDefault();
});

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post" || "repeat" in form.dataset) return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  touched.delete(form);
  event.submitter?.setAttribute("aria-disabled", "true");
});

window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) {
    delete form.dataset.sent;
    form.querySelector("[aria-disabled]")?.removeAttribute("aria-disabled");
  }
});

function arrive(root) {
  root.querySelector("[data-summary]")?.focus();
  for (const set of root.querySelectorAll("[data-formset]")) leaveOneRow(set);
  for (const form of root.querySelectorAll("form")) showSums(form);
}

arrive(document);
document.addEventListener("htmx:afterSettle", (event) => arrive(event.target));
