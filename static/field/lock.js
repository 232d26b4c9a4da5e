// Lock: hide the screen behind a number and keep everything. It is no sign-out, and no encryption:
// what is on the tablet is protected by the tablet's own lock.
import * as store from "./store.js";
import { glyph, html } from "./draw.js";
import { many, t } from "./words.js";

const ROUNDS = 200000;

async function stretch(pin, salt) {
  const key = await crypto.subtle.importKey("raw", new TextEncoder().encode(pin), "PBKDF2", false, ["deriveBits"]);
  const bits = await crypto.subtle.deriveBits({ name: "PBKDF2", hash: "SHA-256", salt, iterations: ROUNDS }, key, 256);
  return [...new Uint8Array(bits)].join(",");
}

export const isLocked = async () => Boolean((await store.get("lock"))?.isOn);
export const hasPin = async () => Boolean((await store.get("lock"))?.hash);

export async function setPin(pin) {
  const salt = crypto.getRandomValues(new Uint8Array(16));
  await store.set("lock", { salt, hash: await stretch(pin, salt), isOn: false });
}

export async function lock() {
  await store.set("lock", { ...(await store.get("lock")), isOn: true });
  await cover();
}

// Cover the screen until the number is typed; resolves when it is.
export async function cover() {
  const me = await store.get("me");
  const unsent = await store.countUnsent();
  const place = document.getElementById("cover");
  document.body.classList.add("is-covered");
  place.hidden = false;
  place.innerHTML = String(html`<form class="stack" id="unlock"><h1>${t("Locked")}</h1><p class="lede">${me?.name ?? ""}. ${unsent ? many("{n} entry is on this tablet and not sent yet.", "{n} entries are on this tablet and not sent yet.", unsent) : t("Everything was sent.")}</p><div class="field"><label for="pin">${t("number")}</label><input id="pin" inputmode="numeric" type="password" autocomplete="off" maxlength="12" required></div><p id="unlock-said" role="alert"></p><button class="button filled">${t("Unlock")}</button></form>`);
  const form = document.getElementById("unlock");
  form.querySelector("input").focus();
  await new Promise((resolve) => {
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      event.stopPropagation();
      const kept = await store.get("lock");
      if ((await stretch(form.querySelector("input").value, kept.salt)) === kept.hash) {
        await store.set("lock", { ...kept, isOn: false });
        resolve();
      } else {
        document.getElementById("unlock-said").innerHTML = String(html`<span class="wrong-text">${glyph("fail")} ${t("That is not the number. Nothing is deleted, however often it is wrong.")}</span>`);
      }
    });
  });
  place.hidden = true;
  place.innerHTML = "";
  document.body.classList.remove("is-covered");
}
