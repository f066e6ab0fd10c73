// One-time links. Their token follows a #, so that no request line, log or Referer ever holds it; this takes it out of
// the address at once and sends it in the body of a form. Without a script, the link is pasted into that form.
const opening = document.querySelector("form[data-open-link]");

function follow() {
  const token = location.hash.slice(1);
  if (!token || !opening) return;
  history.replaceState(null, "", location.pathname);
  opening.elements.token.value = token;
  opening.requestSubmit();
}

follow();
window.addEventListener("hashchange", follow); // a link followed while this very page is open

for (const button of document.querySelectorAll("[data-copy]")) {
  const field = document.getElementById(button.dataset.copy);
  field.addEventListener("focus", () => field.select());
  if (!navigator.clipboard) continue; // over plain http it is not there: the field is copied by hand
  button.hidden = false;
  button.addEventListener("click", async () => {
    await navigator.clipboard.writeText(field.value);
    button.textContent = button.dataset.done;
  });
}
