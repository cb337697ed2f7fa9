// The page works without this: it only lets keys press its buttons. They can be switched off (WCAG 2.2, 2.1.4).
const keys = document.querySelector(".keys");
const toggle = keys.querySelector("button");
let on = true;
try { on = localStorage.getItem("keys") !== "off"; } catch { /* not kept then */ }
function show() { toggle.setAttribute("aria-pressed", String(on)); }
toggle.addEventListener("click", () => {
  on = !on;
  show();
  try { localStorage.setItem("keys", on ? "on" : "off"); } catch { /* not kept then */ }
});
document.addEventListener("keydown", (event) => {
  if (!on || event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
  if (event.target.closest("input, textarea, select")) return;
  const pressed = document.querySelector(`[data-key="${CSS.escape(event.key.toLowerCase())}"]`);
  if (pressed) { event.preventDefault(); pressed.click(); }
});
keys.hidden = false;
show();
