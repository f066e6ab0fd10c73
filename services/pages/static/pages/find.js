// The slash puts the hand into the search field of the page's head, from anywhere but a field.
document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest?.("input:not([type=checkbox], [type=radio]), select, textarea, [contenteditable]")) return;
  const field = document.getElementById("find-q");
  if (!field) return;
  event.preventDefault();
  field.focus();
  field.select();
});
