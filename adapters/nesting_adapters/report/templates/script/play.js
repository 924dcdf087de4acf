// Plays the way of the beam over a drawing; times are the plan's estimates.
const SHOWN_SECONDS = 20;

function readVisits(text) {
  let clock = 0;
  return text.split(";").map((words) => {
    const [pockets, ...figures] = words.split(" ");
    const [travel, wait, beam, ...flat] = figures.map(Number);
    const trail = [];
    for (let k = 0; k < flat.length; k += 2) trail.push([flat[k], flat[k + 1]]);
    const place = (pockets.includes(",") ? "pockets " : "pocket ") + pockets.replaceAll(",", ", ");
    const arrive = clock + travel;
    const visit = { place, trail, leave: clock, arrive, begin: arrive + wait, end: arrive + wait + beam };
    clock = visit.end;
    return visit;
  });
}

function between([x0, y0], [x1, y1], share) {
  return [x0 + (x1 - x0) * share, y0 + (y1 - y0) * share];
}

function along(trail, share) {
  const place = share * (trail.length - 1);
  const k = Math.min(Math.floor(place), trail.length - 2);
  return trail.length < 2 ? trail[0] : between(trail[k], trail[k + 1], place - k);
}

function clockText(seconds) {
  const whole = Math.round(seconds);
  return whole < 60 ? `${whole} s` : `${Math.floor(whole / 60)} min ${String(whole % 60).padStart(2, "0")} s`;
}

function setUpPlayer(player) {
  const drawing = player.closest("figure").querySelector(".drawing");
  const [slider, button, told] = ["input", "button", "output"].map((tag) => player.querySelector(tag));
  const [head, run] = [drawing.querySelector(".head"), drawing.querySelector(".run")];
  const home = [head.getAttribute("cx"), head.getAttribute("cy")].map(Number);
  const visits = readVisits(player.dataset.visits);
  const total = visits.at(-1).end;
  let timer = 0;

  function show(time) {
    const k = visits.findIndex((visit) => time < visit.end);
    const now = k < 0 ? visits.length - 1 : k;
    const visit = visits[now];
    const left = now ? visits[now - 1].trail.at(-1) : home;
    const onWay = time < visit.arrive;
    const waiting = !onWay && time < visit.begin;
    const share = onWay ? (time - visit.leave) / (visit.arrive - visit.leave)
      : Math.min(1, Math.max(0, time - visit.begin) / Math.max(visit.end - visit.begin, 1e-9));
    const spot = onWay ? between(left, visit.trail[0], share) : along(visit.trail, share);
    const points = [home];
    for (const earlier of visits.slice(0, now)) points.push(earlier.trail[0], earlier.trail.at(-1));
    const passed = onWay ? [] : visit.trail.slice(0, Math.floor(share * (visit.trail.length - 1)) + 1);
    run.setAttribute("d", "M" + [...points, ...passed, spot].join("L"));
    head.setAttribute("cx", spot[0]);
    head.setAttribute("cy", spot[1]);
    head.classList.toggle("on", !onWay && !waiting);
    const doing = onWay ? "on the way to" : waiting ? "waiting at" : "at";
    const at = k < 0 ? "finished" : `${doing} ${visit.place}`;
    told.textContent = `${clockText(time)} of ${clockText(total)}, ${at}`;
    slider.setAttribute("aria-valuetext", told.textContent);
  }

  function pause() {
    cancelAnimationFrame(timer);
    timer = 0;
    button.textContent = "Play";
  }

  function play() {
    const began = performance.now() - (slider.value / slider.max) * SHOWN_SECONDS * 1000;
    button.textContent = "Pause";
    const tick = (moment) => {
      slider.value = Math.min(1, (moment - began) / (SHOWN_SECONDS * 1000)) * slider.max;
      show((slider.value / slider.max) * total);
      if (Number(slider.value) < Number(slider.max)) timer = requestAnimationFrame(tick); else pause();
    };
    timer = requestAnimationFrame(tick);
  }

  slider.addEventListener("input", () => {
    pause();
    drawing.classList.add("playing");
    show((slider.value / slider.max) * total);
  });
  button.addEventListener("click", () => {
    drawing.classList.add("playing");
    if (timer) { pause(); return; }
    if (slider.value === slider.max) slider.value = 0;
    play();
  });
}

for (const player of document.querySelectorAll(".player")) setUpPlayer(player);
