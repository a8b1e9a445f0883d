// Paper by day, dark in the hangar. The choice is a cookie, so the server draws the page right at once.
const YEAR = 365 * 24 * 60 * 60;

function isDark() {
  const chosen = document.documentElement.dataset.theme;
  return chosen ? chosen === "dark" : window.matchMedia("(prefers-color-scheme: dark)").matches;
}

function show(button) {
  button.setAttribute("aria-pressed", String(isDark()));
  button.querySelector("[data-theme-word]").textContent = isDark() ? "on" : "off";
}

export function watchTheme(root) {
  for (const button of root.querySelectorAll("[data-theme-toggle]")) {
    show(button);
    button.addEventListener("click", () => {
      const theme = isDark() ? "light" : "dark";
      document.documentElement.dataset.theme = theme;
      document.cookie = `theme=${theme}; path=/; max-age=${YEAR}; samesite=lax`;
      show(button);
    });
  }
}
