// Sends one photo and tells how much of it went; fetch cannot tell that.

/** What the server said that sending again will not change. */
export class Refusal extends Error {
  constructor(problem) {
    super(problem.detail);
    this.problem = problem;
  }
}

const SILENCE_MS = 30000; // nothing moved for so long: the network is gone, though nobody said so
const PASSING = [408, 425, 429, 500, 502, 503, 504];

/** Send a photo; resolves to its inspection, rejects with a Refusal, or with an Error when it may go later. */
export function upload(photo, tell) {
  const form = new FormData();
  for (const [name, value] of Object.entries(photo.wishes)) form.append(name, value);
  form.append("photo", new Blob([photo.bytes], { type: photo.type }), photo.name);
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open("POST", "/api/v1/inspections");
    request.setRequestHeader("Idempotency-Key", photo.key);
    let silence = setTimeout(() => request.abort(), SILENCE_MS);
    request.upload.onprogress = (event) => {
      clearTimeout(silence);
      silence = setTimeout(() => request.abort(), SILENCE_MS);
      if (event.lengthComputable) tell(Math.round((100 * event.loaded) / event.total));
    };
    request.onload = () => settle(request, resolve, reject);
    request.onerror = () => reject(new Error("The network failed"));
    request.onabort = () => reject(new Error("The network is silent"));
    request.onloadend = () => clearTimeout(silence);
    request.send(form);
  });
}

function settle(request, resolve, reject) {
  let body = null;
  try {
    body = JSON.parse(request.responseText);
  } catch { /* something between here and the server answered */ }
  if (body && (request.status === 200 || request.status === 202)) resolve(body);
  else if (body && body.code && !PASSING.includes(request.status)) reject(new Refusal(body));
  else reject(new Error(body && body.detail ? body.detail : "The server did not answer"));
}
