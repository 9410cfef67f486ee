// Tells the page once that no menu is open: at once, or when the one that is open was closed.

export default function (component) {
  const { data } = component;
  const isOpen = () => document.querySelector("[role=combobox][aria-expanded=true]") !== null;
  const look = () => {
    if (isOpen()) return;
    clearInterval(looking);
    component.setTriggerValue("closed", data.news);
  };
  const looking = setInterval(look, 150);
  return () => clearInterval(looking);
}
