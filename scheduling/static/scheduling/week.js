// Arrow keys on a slot of the board begin a move: its dialog opens with the next day or bay chosen.
const STEPS = { ArrowLeft: ["day", -1], ArrowRight: ["day", 1], ArrowUp: ["bay", -1], ArrowDown: ["bay", 1] };

function shift(choice, by) {
  const place = choice.selectedIndex + by;
  if (place >= 0 && place < choice.options.length) choice.selectedIndex = place;
}

document.addEventListener("keydown", (event) => {
  const slot = event.target.closest("[data-slot]");
  const step = STEPS[event.key];
  if (!slot || !step || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  const dialog = document.getElementById(slot.getAttribute("commandfor"));
  const form = dialog.querySelector("[data-move]");
  form.reset();
  shift(form.elements[step[0]], step[1]);
  if (!dialog.open) dialog.showModal();
  form.elements[step[0]].focus();
});

// A dialog put away without moving forgets what was chosen in it, and gives the focus back to its slot.
for (const dialog of document.querySelectorAll(".slot-dialog")) {
  dialog.addEventListener("close", () => dialog.querySelector("[data-move]")?.reset());
}
