// The buttons by which a coach answers: agree or disagree with a point or a rep, and the reference rep. They are part of
// the page's own text, which comes anew with each answer, so that they are looked for when one is pressed.

export default function (component) {
  const { data, setTriggerValue } = component;
  const onClick = (event) => {
    const button = event.target instanceof Element ? event.target.closest("[data-answer]") : null;
    if (!button || !document.querySelector(`.st-key-${data.scope}`)?.contains(button)) return;
    setTriggerValue("act", { do: button.dataset.answer, what: button.dataset.what, at: Date.now() });
  };
  document.addEventListener("click", onClick);
  return () => document.removeEventListener("click", onClick);
}
