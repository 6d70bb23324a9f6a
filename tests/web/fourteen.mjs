// Fourteen pilots in three groups.
const names = ['Ann','Ben','Cem','Dee','Edda','Finn','Gil','Hana','Ivo','Jon','Kim','Lou','Nia','Oda'];
const chan = ['R1','R2','R3','R7','F6','R8','R4','R1','R3','R5','R8','R2','','R6'];
const group = [1,1,1,1,1,1,1,2,2,2,2,3,3,3];
export function dayText() {
  let s = `[day]\nname = "Harvest fly-in"\ndate = 2026-11-28\nrules = "cept-25mw"\n[field]\nname = "Alder Meadow"\n`;
  const places = [['North bench',-30],['Hut',-10],['Middle bench',10],['East bench',30]];
  for (const [n,x] of places) s += `[[field.place]]\nname = "${n}"\nat_m = [${x}, 0]\nheight_m = 1.7\n`;
  s += `[[field.place]]\nname = "Mast"\nat_m = [40, -4]\nheight_m = 3\n[[field.area]]\nname = "Meadow"\ncentre_m = [-10, 90]\nradius_m = 60\nheight_m = [3, 50]\n[[field.area]]\nname = "Wood edge"\ncentre_m = [80, 80]\nradius_m = 40\nheight_m = [3, 50]\n`;
  names.forEach((n, i) => {
    s += `[[pilot]]\nname = "${n}"\nplace = "${places[i % 4][0]}"\narea = "${i % 5 === 3 ? 'Wood edge' : 'Meadow'}"\nkit = "${n === 'Finn' ? 'ground-station-5g8' : 'usual-quad'}"\n${n === 'Finn' ? 'relay_place = "Mast"\n[pilot.video]\npower_mw = [25, 200]\n' : ''}`;
    if (chan[i]) s += `[pilot.claim]\nchannel = "${chan[i]}"\npower_mw = 25\ngroup = ${group[i]}\n${group[i]===1 && n !== 'Gil' ? 'on_air = true\n' : ''}`;
  });
  return s;
}
