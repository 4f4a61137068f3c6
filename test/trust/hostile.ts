// Content as an attacker would write it into a log, a table or a file's name: one piece for each sink it might reach.

/** Each would do something if it were taken for more than text. */
export const HOSTILE = [
  '<script>alert(1)</script>',
  '<img src=x onerror=alert(1)>',
  '"><svg onload=alert(1)>',
  '[click](command:workbench.action.terminal.new)',
  '[x](https://evil.example/a)',
  'https://evil.example/x',
  'www.evil.example',
  'a@evil.example',
  '![i](https://evil.example/i.png)',
  '`code` **bold** | cell | $(alert)',
  '${7*7} {{7*7}} #{7*7}',
  '=HYPERLINK("https://evil.example")',
  '+1+cmd',
  '-2+3',
  '@SUM(A1)',
  '$(touch /tmp/x)',
  '`touch /tmp/x`',
  '; rm -rf x',
  '(a+)+$',
  '[[:alpha:]]*{1,9}',
  '1. list',
  '# heading',
] as const;

/**
 * What steers a terminal, or shows other text than there is: ESC sequences of both kinds, bell, backspace, carriage return, and turned
 * writing.
 */
export const STEERING = '\u001b[2J\u001b]0;title\u0007\u009b31m\b\u202e\u2066';

/** One piece with something for every kind of page. */
export const HOSTILE_PAGE =
  '<img src=x onerror=alert(1)>"\'><script>alert(2)</script></style></svg>[click](command:workbench.action.terminal.new)&lt;b&gt;';
