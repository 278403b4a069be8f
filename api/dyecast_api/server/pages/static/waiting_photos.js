// Photos that are not sent yet, kept on this phone (IndexedDB) until the server has answered.

const NAME = "dyecast-bench";
const STORE = "photos";

const unkept = new Map(); // what the browser would not keep lives as long as this page

function opened() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "key" });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

async function within(mode, work) {
  const database = await opened();
  try {
    return await new Promise((resolve, reject) => {
      const transaction = database.transaction(STORE, mode, { durability: "strict" });
      const request = work(transaction.objectStore(STORE));
      transaction.oncomplete = () => resolve(request.result);
      transaction.onerror = () => reject(transaction.error);
      transaction.onabort = () => reject(transaction.error);
    });
  } finally {
    database.close();
  }
}

/** Keep a photo with what is wanted of it; false when only this page keeps it, as in a private window.
 *  Bytes are kept rather than the file: a phone may take that away. */
export async function keepPhoto(photo) {
  try {
    await within("readwrite", (store) => store.put(photo));
    return true;
  } catch {
    unkept.set(photo.key, photo);
    return false;
  }
}

/** Return all photos that wait, the oldest first. */
export async function waitingPhotos() {
  const kept = await within("readonly", (store) => store.getAll()).catch(() => []);
  return [...kept, ...unkept.values()].sort((one, other) => one.taken - other.taken);
}

/** Forget a photo that the server has, or that nobody wants sent. */
export async function forgetPhoto(key) {
  if (!unkept.delete(key)) await within("readwrite", (store) => store.delete(key));
}

/** Return a new key that makes sending a photo twice one inspection. */
export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16)); // randomUUID needs a secure context
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}
