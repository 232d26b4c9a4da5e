// The way out when the app itself is broken: the sealed file first, then the worker goes.
import * as store from "./store.js";
import { count as many } from "./draw.js";
import { saveSealed } from "./sealed.js";

const said = document.getElementById("reset-said");
const tell = (text) => {
  said.textContent = text;
};

document.getElementById("rescue").addEventListener("click", async () => {
  try {
    await saveSealed();
    document.getElementById("remove").disabled = false;
    tell("The file is saved. Give it to the office; then remove the app's worker.");
  } catch (error) {
    tell(error.message);
  }
});

document.getElementById("remove").addEventListener("click", async () => {
  for (const registration of await navigator.serviceWorker.getRegistrations()) await registration.unregister();
  for (const name of await caches.keys()) if (name.startsWith("shell ")) await caches.delete(name);
  tell("The worker is gone. What was entered is still on this tablet. Open the app again while there is signal.");
});

store
  .countUnsent()
  .then((count) => {
    document.getElementById("remove").disabled = count > 0;
    tell(count ? `${many(count, "entry is", "entries are")} only on this tablet. Save the rescue file first.` : "Everything was sent.");
  })
  .catch(() => tell("What is on this tablet cannot be read. Call the office before anything else."));
