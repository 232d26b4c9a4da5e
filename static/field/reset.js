// The way out when the app itself is broken: the sealed file first, then the worker goes.
import * as store from "./store.js";
import { saveSealed } from "./sealed.js";
import { learn, many, sayError, t } from "./words.js";

const said = document.getElementById("reset-said");
const tell = (text) => {
  said.textContent = text;
};

document.getElementById("rescue").addEventListener("click", async () => {
  try {
    await saveSealed();
    document.getElementById("remove").disabled = false;
    tell(t("The file is saved. Give it to the office; then remove the app's worker."));
  } catch (error) {
    tell(sayError(error));
  }
});

document.getElementById("remove").addEventListener("click", async () => {
  for (const registration of await navigator.serviceWorker.getRegistrations()) await registration.unregister();
  for (const name of await caches.keys()) if (name.startsWith("shell ")) await caches.delete(name);
  tell(t("The worker is gone. What was entered is still on this tablet. Open the app again while there is signal."));
});

learn(document.documentElement.lang)
  .then(() => store.countUnsent())
  .then((count) => {
    document.getElementById("remove").disabled = count > 0;
    tell(count ? many("{n} entry is only on this tablet. Save the rescue file first.", "{n} entries are only on this tablet. Save the rescue file first.", count) : t("Everything was sent."));
  })
  .catch(() => tell(t("What is on this tablet cannot be read. Call the office before anything else.")));
