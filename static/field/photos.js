// Photos: made smaller, without the metadata of the camera, named by their hash.
import { sha256 } from "./canonical.js";
import * as store from "./store.js";
import { mark, Problem, t } from "./words.js";

export async function shrink(file, edge = 2000) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, edge / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * scale));
  canvas.height = Math.max(1, Math.round(picture.height * scale));
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close(); // one decoded at a time: small tablets have little memory
  const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", 0.8));
  canvas.width = canvas.height = 0;
  return blob.arrayBuffer();
}

// Draw the photos that this tablet has, small, one after the other; others' are only counted.
export async function drawPhotos(root) {
  for (const canvas of root.querySelectorAll("canvas[data-photo]")) {
    const blob = await store.getBlob(canvas.dataset.photo).catch(() => null);
    const picture = blob && (await createImageBitmap(new Blob([blob.bytes]), { resizeHeight: 240 }).catch(() => null));
    if (!picture) {
      canvas.remove();
      continue;
    }
    Object.assign(canvas, { width: picture.width, height: picture.height });
    canvas.getContext("2d").drawImage(picture, 0, 0);
    picture.close();
  }
}

// Half the edge, where a photo does not fit: a label can still be read on it.
const SIZES = [1, 0.5];

// Keep a photo as large as it fits; answer what the entry says of it, and the words of its note. A
// tablet without space for the smallest throws NotSaved with isFull.
export async function keep(file, rules, already = 0) {
  if (already >= (rules?.most ?? Infinity)) throw new Problem(mark("This visit has its {most} photos; the office can be sent more by other means."), rules);
  let failed;
  for (const size of SIZES) {
    const bytes = await shrink(file, (rules?.edge ?? 2000) * size);
    failed = bytes.byteLength > (rules?.bytes ?? Infinity) && new Problem(mark("This photo is too large. Take it again, smaller."));
    if (failed) continue;
    const name = await sha256(bytes);
    try {
      const back = await store.putBlob({ sha256: name, bytes, isSent: false, at: Date.now() });
      if ((await sha256(back.bytes)) !== name) throw new store.NotSaved(new Error("read back differently"));
    } catch (error) {
      failed = error;
      if (error.isFull) continue;
      throw error;
    }
    return { photo: { sha256: name, length: bytes.byteLength }, words: size === 1 ? "Photo." : "Photo, kept smaller than usual: it did not fit." };
  }
  throw failed;
}

// Keep a photo and say what became of it: the note stands without it, a full tablet stops no work.
// The words of the note are the record's, and English.
export async function keepOrSay(ctx, file, already) {
  try {
    const { photo, words } = await keep(file, ctx.visit.rules.photos, already);
    return { text: words, photos: [photo] };
  } catch (error) {
    ctx.notSaved(error, t("the photo"));
    return { text: error.isFull ? "Photo not saved: the tablet's storage is full." : `Photo not saved: ${error.message}`, photos: [] };
  }
}
