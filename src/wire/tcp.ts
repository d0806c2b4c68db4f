/**
 * TCP header (RFC 9293, from memory; layout as in RFC 793): 20 bytes and options.
 */

/** Flag: no more data from the sender. */
export const TCP_FIN = 0x001;
/** Flag: synchronise sequence numbers. */
export const TCP_SYN = 0x002;
/** Flag: reset the connection. */
export const TCP_RST = 0x004;
/** Flag: push. */
export const TCP_PSH = 0x008;
/** Flag: the acknowledgement number counts. */
export const TCP_ACK = 0x010;
/** Flag: the urgent pointer counts. */
export const TCP_URG = 0x020;
/** Flag: congestion experienced echo. */
export const TCP_ECE = 0x040;
/** Flag: congestion window reduced. */
export const TCP_CWR = 0x080;
