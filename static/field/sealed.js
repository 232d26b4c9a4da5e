// The sealed rescue file: what is not sent, encrypted to the firm's key, with the tablet's own proof.
import * as store from "./store.js";
import { sha256Text } from "./canonical.js";
import { mark, Problem } from "./words.js";

const bytesOf = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));

function textOf(buffer) {
  const bytes = new Uint8Array(buffer);
  let text = "";
  for (let at = 0; at < bytes.length; at += 32768) text += String.fromCharCode(...bytes.subarray(at, at + 32768));
  return btoa(text);
}

function joined(...buffers) {
  const parts = buffers.map((one) => new Uint8Array(one));
  const whole = new Uint8Array(parts.reduce((sum, one) => sum + one.length, 0));
  let at = 0;
  for (const one of parts) {
    whole.set(one, at);
    at += one.length;
  }
  return whole;
}

export async function seal() {
  const [tablet, publicKey] = [await store.get("tablet"), await store.get("rescue_key")];
  if (!tablet || !publicKey) throw new Problem(mark("This tablet has no key of the firm yet; it needs one contact first."));
  const rows = (await store.listAll()).filter((row) => row.state !== "covered");
  const blobs = (await store.listBlobs()).filter((blob) => !blob.isSent);
  const inner = JSON.stringify({
    wall_ms: Date.now(),
    entries: rows.map((row) => row.entry),
    photos: blobs.map((blob) => ({ sha256: blob.sha256, data: textOf(blob.bytes) })),
  });
  const oaep = { name: "RSA-OAEP", hash: "SHA-256" };
  const wrapWith = await crypto.subtle.importKey("spki", bytesOf(publicKey), oaep, false, ["encrypt"]);
  const secret = crypto.getRandomValues(new Uint8Array(32));
  const iv = crypto.getRandomValues(new Uint8Array(12));
  const aes = await crypto.subtle.importKey("raw", secret, "AES-GCM", false, ["encrypt"]);
  const box = await crypto.subtle.encrypt({ name: "AES-GCM", iv }, aes, new TextEncoder().encode(inner));
  const wrapped = await crypto.subtle.encrypt(oaep, wrapWith, secret);
  const proofKey = new TextEncoder().encode(await sha256Text(tablet.key));
  const mac = await crypto.subtle.importKey("raw", proofKey, { name: "HMAC", hash: "SHA-256" }, false, ["sign"]);
  const proof = new Uint8Array(await crypto.subtle.sign("HMAC", mac, joined(wrapped, iv, box)));
  return JSON.stringify({
    tablet: tablet.id,
    key: textOf(wrapped),
    iv: textOf(iv),
    data: textOf(box),
    proof: [...proof].map((byte) => byte.toString(16).padStart(2, "0")).join(""),
  });
}

export async function saveSealed() {
  const tablet = await store.get("tablet");
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([await seal()], { type: "application/json" }));
  const day = new Date().toISOString().slice(0, 16).replace(/[:T]/g, "-");
  link.download = `${tablet.name.replace(/[^\w-]+/g, "-")}-${day}.rescue.json`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}
