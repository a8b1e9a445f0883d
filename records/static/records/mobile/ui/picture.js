// A photo from the camera, made small enough to travel; the original goes where it cannot be made smaller.

const LONGEST_SIDE = 1920;
const QUALITY = 0.85;

export async function smaller(file) {
  try {
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    const made = await new Promise((done) => { canvas.toBlob(done, "image/jpeg", QUALITY); });
    return made ?? file;
  } catch {
    return file;
  }
}
