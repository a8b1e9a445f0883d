// Sheets that hang from a summary close with Escape or a tap elsewhere.
export function watchSheets(root) {
  const open = () => root.querySelectorAll("details[data-sheet][open]");
  root.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    for (const sheet of open()) {
      sheet.open = false;
      sheet.querySelector("summary").focus();
    }
  });
  root.addEventListener("click", (event) => {
    for (const sheet of open()) if (!sheet.contains(event.target)) sheet.open = false;
  });
}
