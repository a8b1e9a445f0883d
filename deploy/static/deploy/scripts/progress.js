// Replaces a progress piece by the server's newer one until the server sends one that no longer asks.
const SLOWEST = 30_000;

async function fetchPiece(address) {
  const answer = await fetch(address, { headers: { Accept: "text/html" }, credentials: "same-origin" });
  if (!answer.ok) throw new Error(String(answer.status));
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const piece = page.querySelector("[data-progress]");
  if (!piece) throw new Error("no progress piece in the answer");
  return document.importNode(piece, true);
}

function follow(piece, wait) {
  const { poll } = piece.dataset;
  if (!poll) {
    if (piece.dataset.next) window.location.assign(piece.dataset.next);
    return;
  }
  setTimeout(async () => {
    try {
      const newer = await fetchPiece(poll);
      piece.replaceWith(newer);
      follow(newer, 2_000);
    } catch {
      follow(piece, Math.min(wait * 2, SLOWEST));
    }
  }, wait);
}

export function watchProgress(root) {
  for (const piece of root.querySelectorAll("[data-progress][data-poll]")) follow(piece, 2_000);
}
