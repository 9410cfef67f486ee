// The list of reviewed sets: N and P or the arrows move, as from rep to rep under a film; Enter opens, the space bar
// chooses, D marks as done, Delete deletes. The table is the page's own and comes anew with each change, so everything is
// looked up when it is needed.

export default function (component) {
  const { data, setTriggerValue } = component;
  const scope = () => document.querySelector(`.st-key-${data.scope}`);
  const rows = () => [...(scope()?.querySelectorAll("[data-set]") || [])];
  const boxes = () => [...(scope()?.querySelectorAll("[data-choose]") || [])];
  const numberOf = (row) => Number(row.dataset.set);
  const chosen = () => rows().filter((row) => row.querySelector("[data-choose]").checked).map(numberOf);
  let place = 0; // the row the keys are at
  let returning = false; // the table comes anew: the focus goes back to where it was

  const send = (act) => { returning = true; setTriggerValue("act", { ...act, at: Date.now() }); };
  const focusRow = (index) => {
    const all = rows();
    if (!all.length) return;
    place = Math.max(0, Math.min(all.length - 1, index));
    const link = all[place].querySelector("[data-open]");
    link.focus({ preventScroll: true });
    all[place].scrollIntoView({ block: "nearest" });
  };

  const update = () => {
    const amount = chosen().length;
    const words = scope()?.querySelector("[data-amount]");
    const told = amount ? `${amount} chosen` : "";
    if (words && words.textContent !== told) words.textContent = told; // a change is seen by what calls this
    for (const button of scope()?.querySelectorAll("[data-do]") || []) button.disabled = !amount;
    for (const row of rows()) row.classList.toggle("fc-chosen", row.querySelector("[data-choose]").checked);
    const all = scope()?.querySelector("[data-all]");
    if (all) {
      all.checked = amount > 0 && amount === boxes().length;
      all.indeterminate = amount > 0 && !all.checked;
    }
  };

  const onClick = (event) => {
    const target = event.target instanceof Element ? event.target : null;
    if (!target || !scope()?.contains(target)) return;
    const row = target.closest("[data-set]");
    if (row) place = rows().indexOf(row);
    if (target.matches("[data-all]")) for (const box of boxes()) box.checked = target.checked;
    if (target.matches("input")) { update(); return; }
    const button = target.closest("[data-do], [data-sort]");
    if (button?.dataset.do) send({ do: button.dataset.do, sets: chosen() });
    else if (button) send({ do: "sort", by: button.dataset.sort });
    else if (row && !event.ctrlKey && !event.metaKey && !event.shiftKey && !target.closest("label")) {
      event.preventDefault(); // with Ctrl the link opens a tab of its own
      send({ do: "open", sets: [numberOf(row)] });
    }
  };

  const typing = (path) => path.some((node) => node instanceof Element && (node.isContentEditable
    || node.matches("input:not([type=checkbox]), textarea, select, [role=combobox], [role=dialog], [role=menu], [role=radiogroup]")));

  const onKey = (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey || event.shiftKey || event.defaultPrevented || typing(event.composedPath())) return;
    const all = rows();
    if (!all.length) return;
    const inside = scope().contains(document.activeElement);
    const row = inside ? all.find((item) => item.contains(document.activeElement)) : null;
    if (row) place = all.indexOf(row);
    const step = { n: 1, p: -1, ArrowDown: 1, ArrowUp: -1 }[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    const marks = () => (chosen().length ? chosen() : [numberOf(all[place])]);
    if (step && (inside || event.key.length === 1)) focusRow(row ? place + step : place);
    else if (event.key === " " && row && !document.activeElement.matches("input, button")) row.querySelector("[data-choose]").click();
    else if (event.key === "d" && (row || chosen().length)) send({ do: "done", sets: marks() });
    else if (event.key === "Delete" && (row || chosen().length)) send({ do: "delete", sets: marks() });
    else return;
    event.preventDefault();
  };

  const watch = new MutationObserver(() => {
    update();
    if (returning && rows().length && (document.activeElement === document.body || !document.activeElement)) {
      returning = false;
      focusRow(place);
    }
  });
  const start = setInterval(() => {
    if (!scope()) return;
    clearInterval(start);
    watch.observe(scope(), { childList: true, subtree: true });
    update();
  }, 50);

  document.addEventListener("click", onClick);
  document.addEventListener("keydown", onKey);
  return () => {
    clearInterval(start);
    watch.disconnect();
    document.removeEventListener("click", onClick);
    document.removeEventListener("keydown", onKey);
  };
}
