// Tap an outlet as it wets: the seconds since the fluid came on are written for you. Kept over a reload.
import { buzz, shown, stayAwake } from "./clock.js";

class Outlets {
  constructor(form) {
    this.form = form;
    this.face = form.querySelector("[data-face]");
    this.rows = [...form.querySelectorAll("[data-outlet]")];
    this.place = `outlets:${form.action}`;
    this.start = Number(sessionStorage.getItem(this.place)) || 0;
    for (const row of this.rows) this.prepare(row);
    for (const dot of form.querySelectorAll("[data-dot]")) {
      dot.addEventListener("click", () => this.tap(this.rows[Number(dot.dataset.dot)]));
    }
    form.querySelector("[data-outlets-start]").addEventListener("click", () => this.begin());
    form.addEventListener("submit", (event) => this.keep(event));
    if (this.start) this.run();
  }

  prepare(row) {
    const wet = row.querySelector('input[value="wet"]');
    row.querySelector("[data-tap]").addEventListener("click", () => this.tap(row));
    row.querySelector(".outlet-seconds input").addEventListener("input", (event) => {
      if (event.target.value) this.set(row, true, event.target.value);
    });
    const kept = sessionStorage.getItem(this.keyOf(row));
    const written = row.querySelector(".outlet-seconds input").value;
    if (wet.checked && written) this.show(row, true);
    else if (kept) this.set(row, true, kept);
  }

  keyOf(row) {
    return `${this.place}:${row.dataset.outlet}`;
  }

  begin() {
    this.start = Date.now();
    sessionStorage.setItem(this.place, String(this.start));
    this.run();
  }

  run() {
    this.form.querySelector("[data-outlets-start]").hidden = true;
    stayAwake();
    setInterval(() => {
      this.face.textContent = shown((Date.now() - this.start) / 1000, false);
    }, 200);
  }

  tap(row) {
    const isWet = row.querySelector('input[value="wet"]').checked;
    const elapsed = this.start ? ((Date.now() - this.start) / 1000).toFixed(1) : "";
    this.set(row, !isWet, isWet ? "" : elapsed);
    buzz(60);
    if (!isWet && !this.start) row.querySelector(".outlet-seconds input").focus();
  }

  set(row, isWet, seconds) {
    row.querySelector(`input[value="${isWet ? "wet" : "dry"}"]`).checked = true;
    const field = row.querySelector(".outlet-seconds input");
    if (field.value !== seconds) field.value = seconds;
    if (isWet && seconds) sessionStorage.setItem(this.keyOf(row), seconds);
    else sessionStorage.removeItem(this.keyOf(row));
    this.show(row, isWet);
  }

  show(row, isWet) {
    row.querySelector("[data-tap]").setAttribute("aria-pressed", String(isWet));
    row.querySelector("[data-word]").textContent = isWet ? "wet" : "not yet";
    const dot = this.form.querySelector(`[data-dot="${row.dataset.outlet}"]`);
    if (dot) dot.classList.toggle("outlet-dot-wet", isWet);
  }

  keep() {
    for (const row of this.rows) {
      if (!row.querySelector('input[value="wet"]').checked) row.querySelector('input[value="dry"]').checked = true;
      sessionStorage.removeItem(this.keyOf(row));
    }
    sessionStorage.removeItem(this.place);
  }
}

export function watchOutlets(root) {
  for (const form of root.querySelectorAll("[data-outlets]")) new Outlets(form);
}
