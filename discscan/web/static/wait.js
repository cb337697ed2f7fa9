// The page works without this: it only saves pressing "Look again".
const place = document.querySelector("[data-state]");
async function look() {
  try {
    const answer = await fetch(place.dataset.state);
    const state = await answer.json();
    if (state.done) { location.reload(); return; }
    if (place.textContent !== state.said) place.textContent = state.said;
  } catch { /* the network is away for a moment */ }
  setTimeout(look, 1000);
}
if (place) setTimeout(look, 500);
