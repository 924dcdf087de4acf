// What needs a script is shown only where one runs.
for (const part of document.querySelectorAll(".scripted")) part.hidden = false;
readTicks();
showSought();
