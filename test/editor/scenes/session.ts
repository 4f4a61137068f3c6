// What a person sees who opens a session with a lean spot in its pull.
import { leanLines, reading, readingLine } from '../benchCar.js';
import { scene } from '../scene.js';

const files = ['bench-car/sessions/drive.session.csv'];

scene('a lean spot is underlined', { files }, async (window) => {
  await window.goTo(leanLines.first + 1);
  await window.squiggles('error').first().waitFor();
});

scene('a reading converts under the mouse', { files }, async (window) => {
  await window.goTo(readingLine + 1);
  // 0.830 on the gasoline scale: 0.830 x 14.7.
  await window.hoverOver(reading.lambda, /12\.2/);
});

scene('the problems panel lists what was found', { files }, async (window) => {
  const problems = await window.problems('lean-under-load');
  await problems.first().waitFor();
});

scene('a plain log is offered as a session', { files: ['bench-car/plain-log.csv'] }, async (window) => {
  const offer = window.notifications.filter({ hasText: 'plain-log.csv' });
  await offer.waitFor();
  await window.shot('a-plain-log-is-offered-as-a-session-before');
  await offer.getByText('Read as Session', { exact: true }).click();
  await window.page.locator('.statusbar-item', { hasText: 'Session log' }).waitFor();
  await window.foundSomething();
});
