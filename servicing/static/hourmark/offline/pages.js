/* Has the service worker keep a page and its files, so that it opens without a line. */

/** Keep the page at an address with the scripts that its own imports; whether it is kept now.

    A browser that can't keeps entries all the same. */
export async function keepPage(worker, page, scripts) {
  if (!("serviceWorker" in navigator) || !window.isSecureContext) return false;
  try {
    await navigator.serviceWorker.register(worker, { scope: "/", type: "module", updateViaCache: "none" });
    const ready = await navigator.serviceWorker.ready;
    return (await ask(ready.active, { page, files: [...files(), ...scripts] })) || (await isKept(page));
  } catch {
    return isKept(page);
  }
}

/** Without a line, or refused, the page that was kept before stays. */
const isKept = async (page) => Boolean(await caches.match(page, { ignoreVary: true }));

/** Every style, script and picture that the page names itself. */
function files() {
  const named = [...document.querySelectorAll("link[href], script[src], use[href]")]
    .map((element) => element.getAttribute("href") ?? element.getAttribute("src"))
    .map((address) => new URL(address, location.href))
    .filter((url) => url.origin === location.origin)
    .map((url) => url.pathname + url.search);
  return [...new Set(named)];
}

function ask(worker, message) {
  return new Promise((answer) => {
    const channel = new MessageChannel();
    channel.port1.onmessage = (event) => answer(event.data.kept);
    worker.postMessage(message, [channel.port2]);
  });
}
