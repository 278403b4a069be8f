// The QR code carries the one-time code behind the #, which is never sent to a server by itself.
function fillIn() {
  const code = decodeURIComponent(location.hash.slice(1));
  if (!code) return;
  document.getElementById("code").value = code;
  history.replaceState(null, "", location.pathname);
}

addEventListener("hashchange", fillIn); // this page was open already when the code was scanned
fillIn();
