// Renews the page's content every 20 s, and says so at once when the server does not answer.
const EVERY_MS = 20_000;

const bar = document.createElement("p");
bar.className = "made";
bar.style.cssText = "max-width:1060px;margin:.5rem auto;padding:0 1.25rem";
const label = document.createElement("label");
const box = document.createElement("input");
box.type = "checkbox";
box.checked = true;
label.append(box, " Renew every 20 s");
const said = document.createElement("span");
said.setAttribute("role", "status");
bar.append(label, " ", said);
document.body.prepend(bar);

async function renew() {
  if (!box.checked || document.hidden) return;
  try {
    const answer = await fetch("./", { cache: "no-store", signal: AbortSignal.timeout(10_000) });
    if (!answer.ok) throw new Error(`status ${answer.status}`);
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    document.querySelector("main").replaceWith(page.querySelector("main"));
    document.title = page.title;
    said.textContent = "";
  } catch (error) {
    const time = new Date().toLocaleTimeString();
    said.textContent = `At ${time} the computer that watches did not answer: what stands here is older than that.`;
  }
}

setInterval(renew, EVERY_MS);
document.addEventListener("visibilitychange", renew);
box.addEventListener("change", renew);
