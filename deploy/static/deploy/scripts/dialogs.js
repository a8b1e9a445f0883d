// Opens and closes <dialog> where the browser does not yet know the command attributes.
export function watchDialogs(root) {
  if ("commandForElement" in HTMLButtonElement.prototype) return;
  root.addEventListener("click", (event) => {
    const button = event.target.closest("button[commandfor]");
    if (!button) return;
    const dialog = document.getElementById(button.getAttribute("commandfor"));
    if (!(dialog instanceof HTMLDialogElement)) return;
    if (button.getAttribute("command") === "show-modal") dialog.showModal();
    else dialog.close();
  });
}
