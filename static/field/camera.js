// The camera that reads codes: the browser's own reader where it has one, else the one that this
// server brings along. The camera is let go of whenever the screen is left or hidden.
import { mark, Problem } from "./words.js";

const VENDOR = new URL("../vendor/", import.meta.url);
const FLAT = ["qr_code", "data_matrix", "aztec"];
const LINES = ["code_128", "code_39", "code_93", "ean_13", "ean_8", "upc_a"];
const EVERY = 120; // ms between two looks

let reader = null;

const script = (url) =>
  new Promise((resolve, reject) => {
    const element = document.createElement("script");
    element.src = url;
    element.onload = resolve;
    element.onerror = () => reject(new Problem(mark("The reader of codes did not load. Type the last characters instead.")));
    document.head.append(element);
  });

async function make() {
  if ("BarcodeDetector" in window) {
    const can = await window.BarcodeDetector.getSupportedFormats().catch(() => []);
    if (can.includes("qr_code")) {
      return new window.BarcodeDetector({ formats: [...FLAT, ...LINES].filter((one) => can.includes(one)) });
    }
  }
  await script(new URL("barcode-detector.js", VENDOR).href);
  const { BarcodeDetector, prepareZXingModule } = window.BarcodeDetectionAPI;
  await prepareZXingModule({
    overrides: {
      // Left to itself it would ask another site, which no page here may.
      locateFile: (path, prefix) => (path.endsWith(".wasm") ? new URL("zxing_reader.wasm", VENDOR).href : prefix + path),
    },
    fireImmediately: true,
  });
  return new BarcodeDetector({ formats: [...FLAT, ...LINES] });
}

export function getReader() {
  reader ??= make().catch((error) => {
    reader = null;
    throw error;
  });
  return reader;
}

// Read the codes of one picture: a photo that was taken.
export async function readPhoto(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  try {
    return (await (await getReader()).detect(picture)).map((one) => one.rawValue);
  } finally {
    picture.close();
  }
}

export class Eye {
  constructor(video, seen) {
    Object.assign(this, { video, seen, stream: null, isOpen: false, last: "" });
    this.hide = () => (document.hidden ? this.rest() : this.open());
    document.addEventListener("visibilitychange", this.hide);
    this.leave = () => this.close();
    addEventListener("hashchange", this.leave);
  }

  async open() {
    if (this.stream || this.isOver) return;
    const stream = await navigator.mediaDevices.getUserMedia({
      audio: false,
      video: { facingMode: { ideal: "environment" }, width: { ideal: 1280 }, height: { ideal: 720 } },
    });
    if (this.isOver) {
      stream.getTracks().forEach((track) => track.stop());
      return;
    }
    this.stream = stream;
    this.video.srcObject = this.stream;
    await this.video.play();
    const found = await getReader();
    this.look(found);
  }

  async look(found) {
    while (this.stream && this.video.isConnected) {
      const codes = this.video.readyState >= 2 ? await found.detect(this.video).catch(() => []) : [];
      const one = codes.find((code) => code.rawValue);
      // Lines are misread now and then: the same must be seen twice. Squares check themselves.
      if (one && (FLAT.includes(one.format) || one.rawValue === this.last)) {
        this.close();
        this.seen(one.rawValue);
        return;
      }
      if (one) this.last = one.rawValue;
      await new Promise((resolve) => setTimeout(resolve, EVERY));
    }
    if (!this.video.isConnected) this.close();
  }

  rest() {
    this.stream?.getTracks().forEach((track) => track.stop());
    this.stream = null;
    this.video.srcObject = null;
  }

  close() {
    this.isOver = true;
    this.rest();
    document.removeEventListener("visibilitychange", this.hide);
    removeEventListener("hashchange", this.leave);
  }
}
