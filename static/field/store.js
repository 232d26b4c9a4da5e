// What this tablet keeps: entries, packs, photos. A write is done when its transaction is complete
// with strict durability, and not before; a write that fails is never called saved.
import { hashEntry } from "./canonical.js";
import { mark, Problem } from "./words.js";

const NAME = "driftbook-field";
const VERSION = 1;
let opened = null;

export class NotSaved extends Problem {
  constructor(cause) {
    super(cause?.name === "QuotaExceededError" ? mark("The tablet's storage is full.") : mark("The tablet could not write it."));
    this.cause = cause;
    this.isFull = cause?.name === "QuotaExceededError";
  }
}

function open() {
  opened ??= window.idb
    .openDB(NAME, VERSION, {
      // Stores and indexes are only ever added: an open visit outlives an update of the app.
      upgrade(db) {
        db.createObjectStore("meta");
        db.createObjectStore("packs", { keyPath: "visit" });
        const entries = db.createObjectStore("entries", { keyPath: "id" });
        entries.createIndex("seq", "seq", { unique: true });
        entries.createIndex("visit", "visit");
        entries.createIndex("state", "state");
        db.createObjectStore("others", { keyPath: ["visit", "id"] }).createIndex("visit", "visit");
        db.createObjectStore("blobs", { keyPath: "sha256" });
      },
      blocking() {
        forget(); // another tab has a newer app: let it in
      },
      terminated() {
        opened = null;
      },
    })
    .catch((error) => {
      opened = null;
      throw error;
    });
  return opened;
}

export async function forget() {
  const db = await opened?.catch(() => null);
  opened = null;
  db?.close();
}

// After a sleep the handle may be dead: open anew and try once more; then it is not saved.
async function attempt(work) {
  try {
    return await work(await open());
  } catch (error) {
    const isDead = ["InvalidStateError", "UnknownError", "AbortError"].includes(error?.name);
    if (!isDead || error?.name === "QuotaExceededError") throw error;
    await forget();
    return work(await open());
  }
}

async function write(stores, work) {
  try {
    return await attempt(async (db) => {
      const tx = db.transaction(stores, "readwrite", { durability: "strict" });
      let ended = null; // why the transaction came to nothing: a full disk is said here, not before
      const done = tx.done.catch((error) => {
        ended = error;
      });
      try {
        const answer = await work(tx);
        await done;
        if (ended) throw ended;
        return answer;
      } catch (error) {
        if (error instanceof NotSaved) throw error;
        await done;
        throw ended ?? error;
      }
    });
  } catch (error) {
    throw error instanceof NotSaved ? error : new NotSaved(error);
  }
}

export const get = (key) => attempt((db) => db.get("meta", key));
export const set = (key, value) => write(["meta"], (tx) => tx.objectStore("meta").put(value, key));

// Entries

export const tail = async () => (await get("tail")) ?? { seq: 0, hash: "" };

// Append one entry: its number, its link in the chain and itself are written in one transaction.
export function append(fields) {
  return navigator.locks.request("driftbook-save", async () => {
    const last = await tail();
    const entry = { ...fields, seq: last.seq + 1, prev: last.hash };
    entry.hash = await hashEntry(entry);
    const row = { id: entry.id, seq: entry.seq, visit: entry.visit, state: "on_tablet", entry };
    await write(["entries", "meta"], async (tx) => {
      const meta = tx.objectStore("meta");
      const now = (await meta.get("tail")) ?? { seq: 0, hash: "" };
      if (now.seq !== last.seq || now.hash !== last.hash) {
        tx.abort();
        throw new NotSaved(new Error("Another window wrote at the same time."));
      }
      tx.objectStore("entries").add(row);
      meta.put({ seq: entry.seq, hash: entry.hash }, "tail");
    });
    return row;
  });
}

export const listEntries = (visit) => attempt((db) => db.getAllFromIndex("entries", "visit", visit));
export const listAll = () => attempt((db) => db.getAllFromIndex("entries", "seq"));
export const listUnsent = async () =>
  (await attempt((db) => db.getAllFromIndex("entries", "state", "on_tablet"))).sort((a, b) => a.seq - b.seq);
export const countUnsent = () => attempt((db) => db.countFromIndex("entries", "state", "on_tablet"));

export const markEntries = (changes) =>
  write(["entries"], async (tx) => {
    const store = tx.objectStore("entries");
    for (const [id, change] of changes) {
      const row = await store.get(id);
      if (row) store.put({ ...row, ...change });
    }
  });

export const removeEntries = (ids) =>
  write(["entries"], async (tx) => ids.forEach((id) => tx.objectStore("entries").delete(id)));

// Packs: a pack is written in one transaction, after it was verified; a broken download changes nothing.

export const putPack = (pack) => write(["packs"], (tx) => tx.objectStore("packs").put(pack));
export const getPack = (visit) => attempt((db) => db.get("packs", visit));
export const listPacks = () => attempt((db) => db.getAll("packs"));
export const removePack = (visit) =>
  write(["packs", "others"], async (tx) => {
    tx.objectStore("packs").delete(visit);
    const others = tx.objectStore("others");
    for (const key of await others.index("visit").getAllKeys(visit)) others.delete(key);
  });

// What others stated

export const listOthers = (visit) => attempt((db) => db.getAllFromIndex("others", "visit", visit));
export const putOthers = (visit, rows, cursor) =>
  write(["others", "meta"], async (tx) => {
    const others = tx.objectStore("others");
    if (cursor.online) {
      for (const row of await others.index("visit").getAll(visit)) {
        if (row.isOnline) others.delete([visit, row.id]);
      }
    }
    for (const row of rows) others.put({ ...row, visit });
    tx.objectStore("meta").put(cursor.kept, `cursor ${visit}`);
  });

// Photos: bytes are written once, as an ArrayBuffer, and read back before they are called saved.

export async function putBlob(blob) {
  await write(["blobs"], (tx) => tx.objectStore("blobs").put(blob));
  return attempt((db) => db.get("blobs", blob.sha256));
}
export const getBlob = (sha256) => attempt((db) => db.get("blobs", sha256));
export const listBlobs = () => attempt((db) => db.getAll("blobs"));
export const markBlob = (sha256, change) =>
  write(["blobs"], async (tx) => {
    const row = await tx.objectStore("blobs").get(sha256);
    if (row) tx.objectStore("blobs").put({ ...row, ...change });
  });

// Write and read back a trial entry, so that "ready" is not only hoped.
export async function tryWriting() {
  const said = `trial ${Date.now()}`;
  await set("trial", said);
  return (await get("trial")) === said;
}

export async function askStorage() {
  const kept = (await navigator.storage?.persist?.().catch(() => false)) ?? false;
  const { usage = 0, quota = 0 } = (await navigator.storage?.estimate?.().catch(() => ({}))) ?? {};
  return { isProtected: kept, free: Math.max(0, quota - usage) };
}
