// Shows the text of data-tip beside the element under the pointer, with the focus or tapped. WCAG 2.2, 1.4.13: it stays
// while the pointer is on it, and Escape puts it away.

export default function (component) {
  // Charts and drawings are made for a light or a dark page: where that changes, the page is asked for them anew.
  const scheme = () => getComputedStyle(document.querySelector(".stApp") || document.body).colorScheme;
  let drawnFor = scheme();
  const following = setInterval(() => {
    // WCAG 2.2, 2.5.3: the button that reads "Menu" (sheet.css) is also called so; Streamlit calls it "Expand sidebar".
    document.querySelector("[data-testid=stExpandSidebarButton]")?.setAttribute("aria-label", "Menu");
    const now = scheme();
    if (now === drawnFor) return;
    drawnFor = now;
    component.setTriggerValue("scheme", now);
  }, 300);

  const box = document.createElement("div");
  box.className = "fc-tip";
  box.setAttribute("role", "tooltip");
  box.id = "fc-tip";
  box.hidden = true;
  document.body.appendChild(box);
  let owner = null;
  let closing = 0;

  const position = () => {
    const at = owner.getBoundingClientRect();
    box.style.maxWidth = `${Math.min(340, window.innerWidth - 24)}px`;
    const size = box.getBoundingClientRect();
    const left = Math.max(12, Math.min(at.left + at.width / 2 - size.width / 2, window.innerWidth - size.width - 12));
    const below = at.bottom + 8 + size.height < window.innerHeight || at.top < size.height + 8;
    box.style.left = `${left}px`;
    box.style.top = `${below ? at.bottom + 8 : at.top - size.height - 8}px`;
  };

  const show = (element) => {
    clearTimeout(closing);
    if (owner && owner !== element) owner.removeAttribute("aria-describedby");
    owner = element;
    box.textContent = element.dataset.tip;
    box.hidden = false;
    element.setAttribute("aria-describedby", box.id);
    position();
  };

  const hide = () => {
    clearTimeout(closing);
    owner?.removeAttribute("aria-describedby");
    owner = null;
    box.hidden = true;
  };

  const target = (event) => (event.target instanceof Element ? event.target.closest("[data-tip]") : null);
  const onOver = (event) => {
    if (event.target === box) { clearTimeout(closing); return; }
    const element = target(event);
    if (element) show(element);
    else if (owner) { clearTimeout(closing); closing = setTimeout(hide, 180); }
  };
  const onFocus = (event) => { const element = target(event); if (element) show(element); };
  const onBlur = () => hide();
  const onTap = (event) => {
    if (event.pointerType === "mouse") return;
    const element = target(event);
    if (element) show(element); else if (event.target !== box) hide();
  };
  const onKey = (event) => { if (event.key === "Escape" && owner) hide(); };
  const onScroll = () => { if (owner) { if (owner.isConnected) position(); else hide(); } };

  const listeners = [
    ["pointerover", onOver, false], ["focusin", onFocus, false], ["focusout", onBlur, false], ["pointerup", onTap, false],
    ["keydown", onKey, true], ["scroll", onScroll, true],
  ];
  for (const [name, listener, capture] of listeners) document.addEventListener(name, listener, capture);
  return () => {
    clearInterval(following);
    for (const [name, listener, capture] of listeners) document.removeEventListener(name, listener, capture);
    box.remove();
  };
}
