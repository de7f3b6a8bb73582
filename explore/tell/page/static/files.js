// Text handed to the reader: as a file, or on the clipboard.

import { html } from "./theme.js";

export function saveText(name, type, text) {
  const address = URL.createObjectURL(new Blob([text], { type }));
  const link = html("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 1000);
}

export async function copyText(text) {
  try {
    await navigator.clipboard.writeText(text);
    return true;
  } catch {
    const area = html("textarea", { class: "hidden" });
    area.value = text;
    document.body.append(area);
    area.select();
    const done = document.execCommand("copy"); // the clipboard interface is closed to pages opened from a file in some browsers
    area.remove();
    return done;
  }
}
