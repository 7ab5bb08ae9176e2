// Keeps the board in the browser's own storage; nothing of it leaves the browser but the links.

const NAME = "weavability-board";

function done(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

function finished(transaction) {
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error);
  });
}

// What is kept, and how to keep more; without storage the list lasts as long as the page.
export async function openStore(changedElsewhere) {
  try {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("rows", { keyPath: "link" });
      request.result.createObjectStore("settings");
    };
    return new Store(await done(request), changedElsewhere);
  } catch {
    return new Store(null, changedElsewhere);
  }
}

class Store {
  constructor(database, changedElsewhere) {
    this.database = database;
    this.channel = new BroadcastChannel(NAME);
    this.channel.onmessage = changedElsewhere;
  }

  get keeps() {
    return this.database !== null;
  }

  async rows() {
    if (!this.database) return [];
    return done(this.database.transaction("rows").objectStore("rows").getAll());
  }

  async setting(name) {
    if (!this.database) return undefined;
    return done(this.database.transaction("settings").objectStore("settings").get(name));
  }

  // Settings are each tab's own until it is reloaded; rows are shared at once.
  async set(name, value) {
    await this.#write("settings", (kept) => kept.put(value, name));
  }

  async put(rows) {
    await this.#write("rows", (kept) => rows.forEach((each) => kept.put(each)));
    this.channel.postMessage("rows");
  }

  async remove(links) {
    await this.#write("rows", (kept) => links.forEach((each) => kept.delete(each)));
    this.channel.postMessage("rows");
  }

  async #write(name, change) {
    if (!this.database) return;
    const transaction = this.database.transaction(name, "readwrite");
    change(transaction.objectStore(name));
    try {
      await finished(transaction);
    } catch {
      this.database = null; // such as a full disk: the page says so and goes on
    }
  }
}
