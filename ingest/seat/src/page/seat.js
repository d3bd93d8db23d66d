const live = new EventSource("/live");
live.addEventListener("now", (event) => {
  document.getElementById("now").textContent = event.data;
});
