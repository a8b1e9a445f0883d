// A message can be put away; the focus goes back to the page, not to nowhere.
export function watchMessages(root) {
  root.addEventListener("click", (event) => {
    const button = event.target.closest("[data-dismiss]");
    if (!button) return;
    button.closest("li").remove();
    document.getElementById("main").focus();
  });
}
