"use strict";
// Where marks and words stand so that none hides another: the rule of rollroute/output/crowd.py for pages that zoom, in pixels of the screen.
const placing = (() => {
  const [CROSSING, ON_WAY] = [80, 50];
  const HALF = 16; // a mark is a square of twice that
  const radians = (angle) => angle * Math.PI / 180;
  const ANGLES = [0, 180, 90, 270, 45, 135, 225, 315, 22.5, 67.5, 112.5, 157.5, 202.5, 247.5, 292.5, 337.5];
  const ASIDE = [34, 46, 58, 70, 82, 96, 112, 130, 150].flatMap((reach) => ANGLES.map((angle) =>
    [Math.round(reach * Math.cos(radians(angle))), Math.round(reach * Math.sin(radians(angle)))]));
  const around = (x, y, wide, high) => [x - wide / 2, y - high / 2, x + wide / 2, y + high / 2];
  const meet = (a, b) => a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
  const holds = (box, x, y) => box[0] <= x && x <= box[2] && box[1] <= y && y <= box[3];
  const side = (ax, ay, bx, by, x, y) => (bx - ax) * (y - ay) - (by - ay) * (x - ax);
  const cross = ([a, b, c, d], [p, q, r, s]) =>
    side(a, b, c, d, p, q) * side(a, b, c, d, r, s) < 0 && side(p, q, r, s, a, b) * side(p, q, r, s, c, d) < 0;
  function cuts([ax, ay, bx, by], box) {
    let [begin, end] = [0, 1];
    for (const [from, to, low, high] of [[ax, bx, box[0], box[2]], [ay, by, box[1], box[3]]]) {
      if (from === to) { if (from <= low || from >= high) return false; continue; }
      const [one, other] = [(low - from) / (to - from), (high - from) / (to - from)];
      [begin, end] = [Math.max(begin, Math.min(one, other)), Math.min(end, Math.max(one, other))];
    }
    return begin < end;
  }

  // The way as points a few pixels apart: only those on the page matter.
  function dots(line, width, height) {
    const found = [];
    for (let n = 1; n < line.length; n += 1) {
      const [[ax, ay], [bx, by]] = [line[n - 1], line[n]];
      if (Math.max(ax, bx) < 0 || Math.max(ay, by) < 0 || Math.min(ax, bx) > width || Math.min(ay, by) > height) continue;
      const parts = Math.max(1, Math.ceil(Math.hypot(bx - ax, by - ay) / 4));
      for (let k = 0; k <= parts; k += 1) found.push([ax + (bx - ax) * k / parts, ay + (by - ay) * k / parts]);
    }
    return found.filter(([x, y]) => x > -HALF && y > -HALF && x < width + HALF && y < height + HALF);
  }

  function crowd(width, height, line) {
    const [taken, leaders, way] = [[], [], dots(line, width, height)];
    const isFree = (box) => !taken.some((other) => meet(box, other));
    const isWhole = (box) => box[0] >= 0 && box[1] >= 0 && box[2] <= width && box[3] <= height;
    const hidesWay = (box) => way.some(([x, y]) => box[0] < x && x < box[2] && box[1] < y && y < box[3]);
    const isUnderLeader = (box) => leaders.some((leader) => cuts(leader, box));
    const take = (box) => { taken.push(box); };
    const claim = (box) => { const free = isFree(box); if (free) take(box); return free; };
    function stepAside(x, y) {
      const isOnPage = isWhole(around(x, y, 0, 0)); // beyond the edge nobody sees it: it may stay there
      const there = ([dx, dy]) => around(x + dx, y + dy, 2 * HALF, 2 * HALF);
      const others = taken.filter((box) => !holds(box, x, y));
      let step = null, least = Infinity;
      for (const one of ASIDE) {
        if (Math.hypot(...one) >= least) break; // the nearest come first
        const box = there(one), leader = [x, y, x + one[0], y + one[1]];
        if (!isFree(box) || isOnPage && !isWhole(box)) continue;
        const crossed = others.filter((other) => cuts(leader, other)).length +
          leaders.filter((other) => cuts(other, box) || (other[0] !== x || other[1] !== y) && cross(leader, other)).length;
        const price = Math.hypot(...one) + CROSSING * crossed + (hidesWay(box) ? ON_WAY : 0);
        if (price < least) [step, least] = [one, price];
      }
      if (!step) return [0, 0];
      take(there(step));
      leaders.push([x, y, x + step[0], y + step[1]]);
      return step;
    }
    function choose(x, y, wide, high, places) {
      const isOnPage = isWhole(around(x, y, 0, 0));
      const there = ([dx, dy]) => around(x + dx, y + dy, wide, high);
      const free = places.filter((place) => isFree(there(place)) && (!isOnPage || isWhole(there(place))));
      const place = free.find((one) => !hidesWay(there(one)) && !isUnderLeader(there(one))) || free[0];
      if (place) take(there(place));
      return place;
    }
    return { isFree, isWhole, take, claim, stepAside, choose };
  }

  // Places of the words beside a mark, as in map/drawing.py; those of start and goal lead away from the way.
  function beside(wide, high, away) {
    const reach = wide / 2 + HALF + 2, over = high / 2 + HALF + 1;
    const corners = [[reach, -over], [-reach, -over], [reach, over], [-reach, over]];
    if (!away) return [[reach, 0], [-reach, 0], [0, -over], [0, over], ...corners];
    const [right, down] = away;
    const ends = [[0, -over], [0, over]];
    if (down > 0) ends.reverse();
    return [...ends, [right * reach, down * 30], [reach, 0], [-reach, 0], ...corners];
  }
  return { HALF, around, beside, crowd };
})();
