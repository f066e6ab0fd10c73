// The light: changes at once, and the server remembers it in a cookie for the next page.
const form = document.querySelector("form.theme");
form?.addEventListener("submit", (event) => {
  event.preventDefault();
  const chosen = event.submitter.value;
  const body = new FormData(form);
  body.set("light", chosen);
  if (chosen === "device") delete document.documentElement.dataset.theme;
  else document.documentElement.dataset.theme = chosen;
  for (const button of form.querySelectorAll("button")) {
    button.setAttribute("aria-pressed", String(button.value === chosen));
  }
  fetch(form.action, { method: "POST", body, headers: { "X-Light": "quiet" }, keepalive: true });
});

// An open menu closes when the hand goes elsewhere.
document.addEventListener("click", (event) => {
  for (const menu of document.querySelectorAll("details.who[open]")) {
    if (!menu.contains(event.target)) menu.open = false;
  }
});
