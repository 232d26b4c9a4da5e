// Write an entry as the bytes that are hashed: the same here and on the server.

export function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
  if (value && typeof value === "object") {
    const keys = Object.keys(value).filter((key) => value[key] !== undefined).sort();
    return `{${keys.map((key) => `${JSON.stringify(key)}:${canonical(value[key])}`).join(",")}}`;
  }
  if (typeof value === "number" && !Number.isSafeInteger(value)) {
    throw new TypeError("An entry holds whole numbers; measures stay as typed.");
  }
  return JSON.stringify(value ?? null);
}

export async function sha256(bytes) {
  const digest = await crypto.subtle.digest("SHA-256", bytes);
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

export const sha256Text = (text) => sha256(new TextEncoder().encode(text));

export function hashEntry(entry) {
  const { hash, ...rest } = entry;
  return sha256Text(canonical(rest));
}
