// Fills in the numbers of the due list's tabs once the page stands; without it the tabs work all the same.
const tabs = document.querySelector("[data-counts]");
if (tabs) {
  const answer = await fetch(tabs.dataset.counts, { headers: { Accept: "application/json" } });
  if (answer.ok) {
    const numbers = await answer.json();
    for (const place of tabs.querySelectorAll("[data-count]")) {
      place.textContent = numbers[place.dataset.count] ?? "";
    }
  }
}
