// Unpack the model and show the sheet.

async function inflated(text) {
  const packed = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

async function start() {
  const root = document.getElementById("sheet");
  const packed = await inflated(document.getElementById("model").textContent);
  const { model: data, words } = JSON.parse(new TextDecoder().decode(packed));
  let storage = null;
  try {
    storage = window.localStorage;
  } catch {
    // The browser forbids it; the store says so.
  }
  const store = new Store(storage);
  const lamp = store.setting("lamp");
  if (lamp === "sun" || lamp === "dark") setLamp(store, lamp);
  const model = revived(data);
  const routes = new Routes(model, model.routes, await inflated(model.routes.packed));
  const random = () => crypto.getRandomValues(new Uint8Array(8));
  const sheet = new Sheet(root, { model, routes, words, store, clock: () => new Date(), random });
  const last = store.all().find((one) => one.visit && one.visit.id === store.setting("last"));
  if (last && !last.visit.rows.some((row) => row.event === "ended")) {
    try {
      sheet.resume(last.visit);
      sheet.keep();
      sheet.message += "Going on where the visit stopped.";
    } catch (error) {
      sheet.alarm = error.message;
      sheet.job = null;
    }
  }
  sheet.show();
  const hosted = location.protocol === "https:" || ["localhost", "127.0.0.1"].includes(location.hostname);
  if (hosted && "serviceWorker" in navigator) navigator.serviceWorker.register("sw.js");
}

start().catch((error) => {
  document.getElementById("sheet").replaceChildren(`This page cannot start here: ${error.message}`);
});
