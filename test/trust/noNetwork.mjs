// Loaded before a program: whatever would open a socket or ask a name server ends it at once, with a status that no program of ours has.
import dgram from 'node:dgram';
import dns from 'node:dns';
import { syncBuiltinESMExports } from 'node:module';
import net from 'node:net';
import tls from 'node:tls';

const caught = (what) => () => {
  process._rawDebug(`SOCKET ${what}`);
  process.reallyExit(99);
};

// http, https, http2, fetch and WebSocket all come to these.
net.Socket.prototype.connect = caught('connect');
net.Server.prototype.listen = caught('listen');
for (const name of ['connect', 'createConnection', 'createServer']) net[name] = caught(`net.${name}`);
tls.connect = caught('tls.connect');
dgram.createSocket = caught('dgram.createSocket');
for (const name of ['lookup', 'resolve', 'resolve4', 'resolve6']) dns[name] = caught(`dns.${name}`);
globalThis.fetch = caught('fetch');
syncBuiltinESMExports();
