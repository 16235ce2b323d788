/*
 * The bench bridge: gauges that have only a clock and a data pad, on one serial line of 115200 8N1.
 *
 * It reads two gauges at once, a foot pedal and two keys, and sends thoud's bench line, whose grammar stands in
 * devices/bench.go. It does not know what the bits of a gauge mean: it notes the data pad at every edge of the clock pad
 * that counts, and when the clock has paused it sends what it noted as raw bits. What they mean stands in a profile on
 * the computer.
 *
 *	:bridge start 1 *..             it was switched on, and speaks version 1 of the line
 *	:bridge here 1 *..              every ten seconds
 *	:left bits 31 A00181CA *..      31 bits, the first is the high one of the first figure
 *	:left bits 31 A00181CA fault *..   clock or data did not stand still where they were read
 *	:left bits 128 ... fault *..    128 bits or more: no more are kept
 *	:left gone *..                  no frame for GONE ms from a gauge that had sent: pulled off, or its cell is flat
 *	:key pedal *..                  also "zero" and "next"
 *
 * Why it is so:
 *
 * Only the two clocks interrupt. Whatever else there is (serial line, keys, milliseconds) is asked in turn by the main
 * loop, so that the data pad is read at most one other short interrupt after the edge. With more in the interrupts, and
 * with others beside them, gauges that are fast gave false bits.
 *
 * A frame ends with the pause of its clock and with nothing else. A count of bits would end it too early or too late
 * once a spike has been counted for an edge, and then every later frame is shifted by a bit.
 *
 * Each edge is read twice. A level that has changed in between, or an edge that is not the one that counts, was a spike
 * or was read too late: the frame is marked and never believed. Noise on the data pad alone cannot be seen here; the
 * computer believes a value only when two frames agree.
 *
 * All memory is fixed: 128 bits a gauge, 64 edges waiting, 256 bytes of the line waiting. Less than 2 kB of program and
 * 400 bytes of variables. At 16 MHz an interrupt takes 4.7 us, and the lines of two frames of 128 bits that end together
 * are out 31 ms after the last edge at most: 20 ms of pause, and the line. The test measures these.
 *
 * Pins, by their names in the controller's data sheet:
 *
 *	PD2  clock of the left gauge       PD4  its data
 *	PD3  clock of the right gauge      PD5  its data
 *	PB0  pedal, PB1 "zero", PB2 "next": each to ground when pressed
 *	PC0  bridged to ground: the left clock counts where it falls; open: where it rises. PC1 the same for the right
 *	TXD  the serial line
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <avr/wdt.h>
#include <stdint.h>
#include <util/crc16.h>

#ifndef F_CPU
#define F_CPU 16000000UL
#endif
#ifndef PAUSE
#define PAUSE 20 /* ms of silence of a clock that end its frame */
#endif
#ifndef GONE
#define GONE 3000 /* ms without a frame after which a gauge is said to be gone; 0: never, for gauges with a data key */
#endif
#define VERSION '1'
#define HERE 10000  /* ms between two words that it is there */
#define BITS 128    /* bits kept of a frame */
#define EDGES 64    /* edges that may wait */
#define DEBOUNCE 20 /* ms */

/* ---- edges ---------------------------------------------------------------------------------------------------------- */

/* What an interrupt saw, in one byte. */
enum { RIGHT = 1, UNSTEADY = 2, CLOCK = 4, DATA = 8 };

static uint8_t edges[EDGES];
static volatile uint8_t put_at, take_at, lost;

#define ON_EDGE(vector, clock, data, whose)                                                              \
	ISR(vector)                                                                                      \
	{                                                                                                \
		uint8_t first = PIND;                                                                    \
		uint8_t at = put_at, seen = whose;                                                       \
		if (first & _BV(clock))                                                                  \
			seen |= CLOCK;                                                                   \
		if (first & _BV(data))                                                                   \
			seen |= DATA;                                                                    \
		if ((first ^ PIND) & (_BV(clock) | _BV(data))) /* the second reading, half a microsecond later */ \
			seen |= UNSTEADY;                                                                \
		if ((uint8_t)(at - take_at) < EDGES) {                                                   \
			edges[at % EDGES] = seen;                                                        \
			put_at = at + 1;                                                                 \
		} else {                                                                                 \
			lost = 1;                                                                        \
		}                                                                                        \
	}
ON_EDGE(INT0_vect, PD2, PD4, 0)
ON_EDGE(INT1_vect, PD3, PD5, RIGHT)

struct gauge {
	uint8_t bits[BITS / 8];
	uint8_t count;    /* bits so far */
	uint8_t spoilt;   /* not to be believed */
	uint8_t rising;   /* CLOCK where the rising edge counts, else 0 */
	uint8_t quiet;    /* ms since the last edge */
	uint8_t present;  /* has sent, and was not said to be gone */
	uint16_t silent;  /* ms since the last frame */
};
static struct gauge gauges[2];

/* ---- the line out ----------------------------------------------------------------------------------------------------- */

static uint8_t line[256], head, tail, sum;

static void drain(void)
{
	if (tail != head && (UCSR0A & _BV(UDRE0)))
		UDR0 = line[tail++];
}

static void put(uint8_t c)
{
	while ((uint8_t)(head + 1) == tail) /* full: wait for room; edges that come meanwhile wait too, or spoil their frames */
		drain();
	sum = _crc8_ccitt_update(sum, c);
	line[head++] = c;
	drain();
}

static void put_text(const char *s)
{
	for (uint8_t c; (c = pgm_read_byte(s)); s++)
		put(c);
}

static void put_figure(uint8_t v) { put(v < 10 ? '0' + v : 'A' - 10 + v); }

static void begin(const char *first)
{
	sum = 0;
	put(':');
	put_text(first);
}

static void end(void)
{
	uint8_t s = sum;
	put_text(PSTR(" *"));
	put_figure(s >> 4);
	put_figure(s & 15);
	put('\n');
}

static void say(const char *text)
{
	begin(text);
	end();
}

static void begin_gauge(const struct gauge *g) { begin(g == gauges ? PSTR("left") : PSTR("right")); }

static void say_bridge(const char *word)
{
	begin(PSTR("bridge "));
	put_text(word);
	put(' ');
	put(VERSION);
	end();
}

/* ---- frames --------------------------------------------------------------------------------------------------------------- */

static void send_frame(struct gauge *g)
{
	uint8_t n = g->count;

	begin_gauge(g);
	put_text(PSTR(" bits "));
	if (n >= 100)
		put_figure(n / 100);
	if (n >= 10)
		put_figure(n / 10 % 10);
	put_figure(n % 10);
	put(' ');
	for (uint8_t k = 0; k < n; k += 4)
		put_figure(k & 4 ? g->bits[k >> 3] & 15 : g->bits[k >> 3] >> 4);
	if (g->spoilt)
		put_text(PSTR(" fault"));
	end();
	g->count = 0;
	g->silent = 0;
	g->present = 1;
}

static void on_edge(uint8_t seen)
{
	struct gauge *g = &gauges[seen & RIGHT];

	g->quiet = 0;
	if ((seen & UNSTEADY) || (seen & CLOCK) != g->rising) {
		g->spoilt = 1;
		return;
	}
	if (g->count == BITS) {
		g->spoilt = 1;
		return;
	}
	uint8_t mask = 0x80 >> (g->count & 7), *byte = &g->bits[g->count >> 3];
	if (mask == 0x80)
		*byte = 0;
	if (seen & DATA)
		*byte |= mask;
	g->count++;
}

/* ---- once a millisecond -------------------------------------------------------------------------------------------------- */

static void pause(struct gauge *g)
{
	if (g->quiet <= PAUSE)
		g->quiet++;
	if (g->quiet > PAUSE) {
		if (g->count)
			send_frame(g);
		g->spoilt = 0;
	}
	if (GONE && g->present && ++g->silent > GONE) {
		g->present = 0;
		begin_gauge(g);
		put_text(PSTR(" gone"));
		end();
	}
}

/* A key counts when it has been low for DEBOUNCE ms, and again after it has been high as long. */
static uint8_t pressed(int8_t *held, uint8_t low)
{
	if (*held >= 0) { /* up: count the ms that it is low */
		*held = low ? *held + 1 : 0;
		if (*held < DEBOUNCE)
			return 0;
		*held = -DEBOUNCE;
		return 1;
	}
	*held = low ? -DEBOUNCE : *held + 1; /* down: count the ms that it is high */
	return 0;
}

static void tick(void)
{
	static int8_t pedal, zero, next;
	static uint16_t here;

	pause(&gauges[0]);
	pause(&gauges[1]);
	if (pressed(&pedal, !(PINB & _BV(PB0))))
		say(PSTR("key pedal"));
	if (pressed(&zero, !(PINB & _BV(PB1))))
		say(PSTR("key zero"));
	if (pressed(&next, !(PINB & _BV(PB2))))
		say(PSTR("key next"));
	if (++here == HERE) {
		here = 0;
		say_bridge(PSTR("here"));
	}
}

/* ---- start ------------------------------------------------------------------------------------------------------------------ */

static void set_up(void)
{
	/* Pull-ups on keys and jumpers only: what comes from a gauge is never driven nor pulled. */
	PORTB = _BV(PB0) | _BV(PB1) | _BV(PB2);
	PORTC = _BV(PC0) | _BV(PC1);
	UCSR0A = _BV(U2X0);
	UBRR0 = (F_CPU / 4 / 115200 - 1) / 2;
	UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
	UCSR0B = _BV(TXEN0);
	OCR1A = F_CPU / 1000 - 1; /* one millisecond; asked for, it does not interrupt */
	TCCR1B = _BV(WGM12) | _BV(CS10);
	say_bridge(PSTR("start")); /* takes long enough for the pull-ups to charge the jumpers' wires */
	gauges[0].rising = PINC & _BV(PC0) ? CLOCK : 0;
	gauges[1].rising = PINC & _BV(PC1) ? CLOCK : 0;
	EICRA = _BV(ISC01) | _BV(ISC11) | (gauges[0].rising ? _BV(ISC00) : 0) | (gauges[1].rising ? _BV(ISC10) : 0);
	EIFR = _BV(INTF0) | _BV(INTF1);
	EIMSK = _BV(INT0) | _BV(INT1);
	sei();
}

int main(void)
{
	wdt_enable(WDTO_250MS);
	set_up();
	for (;;) {
		wdt_reset();
		drain();
		if (lost) { /* whose edge it was is not known */
			lost = 0;
			gauges[0].spoilt = gauges[1].spoilt = 1;
		}
		if (take_at != put_at) {
			on_edge(edges[take_at % EDGES]);
			take_at++;
		} else if (TIFR1 & _BV(OCF1A)) {
			TIFR1 = _BV(OCF1A);
			tick();
		}
	}
}
