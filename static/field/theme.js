// Light or dark, right or left hand, before anything is painted. The shell is the same for all.
for (const key of ["theme", "hand"]) {
  const found = document.cookie.match(new RegExp(`(?:^|; )${key}=(\\w+)`));
  if (found) document.documentElement.dataset[key] = found[1];
}
