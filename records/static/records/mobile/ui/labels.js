// Labels on aircraft and components: their code holds an address, /q/a/<registration>/ or /q/c/<number>/.

export function placeOf(text) {
  const path = text.trim().replace(/^https?:\/\/[^/]+/i, "");
  const aircraft = /^\/q\/a\/([^/]+)\/?$/.exec(path);
  if (aircraft) return ["aircraft", decodeURIComponent(aircraft[1])];
  const component = /^\/q\/c\/([^/]+)\/?$/.exec(path);
  if (component) return ["component", decodeURIComponent(component[1])];
  return null;
}

// Reads codes from pictures: the browser's own reader where it has one, else the one brought along.
export async function reader() {
  if ("BarcodeDetector" in window) {
    const formats = await window.BarcodeDetector.getSupportedFormats().catch(() => []);
    if (formats.includes("qr_code")) {
      const detector = new window.BarcodeDetector({ formats: ["qr_code"] });
      return async (source) => (await detector.detect(source).catch(() => []))[0]?.rawValue ?? null;
    }
  }
  await import("../../../vendor/mobile/jsqr.js");
  const canvas = document.createElement("canvas");
  return async (source) => {
    canvas.width = source.videoWidth || source.width;
    canvas.height = source.videoHeight || source.height;
    const drawing = canvas.getContext("2d", { willReadFrequently: true });
    drawing.drawImage(source, 0, 0, canvas.width, canvas.height);
    const { data, width, height } = drawing.getImageData(0, 0, canvas.width, canvas.height);
    return window.jsQR(data, width, height)?.data ?? null;
  };
}
