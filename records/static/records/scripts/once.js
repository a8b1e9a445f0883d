// A form goes once: a second tap while it is on its way does nothing. The server would ignore it too.
export function watchForms(root) {
  root.addEventListener("submit", (event) => {
    const form = event.target;
    if (!(form instanceof HTMLFormElement) || form.method !== "post" || event.defaultPrevented) return;
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    form.setAttribute("aria-busy", "true");
  });
  // Coming back with the browser's own button shows the page as it was kept: it may be sent again.
  window.addEventListener("pageshow", () => {
    for (const form of root.querySelectorAll("form[data-sent]")) {
      delete form.dataset.sent;
      form.removeAttribute("aria-busy");
    }
  });
}
