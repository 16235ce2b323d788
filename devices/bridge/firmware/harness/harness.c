/*
 * Runs the bridge's firmware in a simulator of the controller, plays levels on its pins, and hands on what it sends.
 *
 *	harness [-t] MCU bridge.elf < levels > sent
 *
 * Each line of levels is "NS PIN LEVEL", as "16000 D2 0": so many nanoseconds after the line before it the pin gets the
 * level. All pins begin high. Without -t simulated time runs as fast as it can and ends 100 ms after the last level.
 *
 * With -t simulated time keeps to the clock on the wall, the serial line is a pseudo-terminal whose path is the first line
 * of the output, levels are played as they come, and it ends with them.
 *
 * At the end it writes a line of figures to standard error: simulated ms, bytes sent, the longest interrupt in cycles,
 * and the microseconds from the last level to the last byte.
 */
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <pty.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_interrupts.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#define MHZ 16
#define TAIL_MS 100

struct level {
	unsigned long long ns;
	char port;
	int pin, high;
};

static avr_t *avr;
static int out_fd, timed;
static unsigned long sent;
static avr_cycle_count_t last_sent;
static unsigned long long longest, entered;

/* Levels wait in a ring that a thread fills from standard input. */
#define WAITING 65536
static struct level waiting[WAITING];
static unsigned head, tail;
static int ended;
static pthread_mutex_t mutex = PTHREAD_MUTEX_INITIALIZER;
static pthread_cond_t changed = PTHREAD_COND_INITIALIZER;

static void *read_levels(void *unused)
{
	struct level l;
	char row[64];

	(void)unused;
	while (fgets(row, sizeof row, stdin)) {
		if (sscanf(row, "%llu %c%d %d", &l.ns, &l.port, &l.pin, &l.high) != 4 || l.port < 'A' || l.port > 'Z' || l.pin < 0 || l.pin > 7) {
			fprintf(stderr, "harness: %s is no level\n", row);
			break;
		}
		pthread_mutex_lock(&mutex);
		while (head - tail == WAITING)
			pthread_cond_wait(&changed, &mutex);
		waiting[head++ % WAITING] = l;
		pthread_cond_broadcast(&changed);
		pthread_mutex_unlock(&mutex);
	}
	pthread_mutex_lock(&mutex);
	ended = 1;
	pthread_cond_broadcast(&changed);
	pthread_mutex_unlock(&mutex);
	return NULL;
}

/* next_level takes the next level; it waits for one unless time goes on without it. */
static int next_level(struct level *l)
{
	int got = 0;

	pthread_mutex_lock(&mutex);
	while (!timed && head == tail && !ended)
		pthread_cond_wait(&changed, &mutex);
	if (head != tail) {
		*l = waiting[tail++ % WAITING];
		got = 1;
		pthread_cond_broadcast(&changed);
	}
	pthread_mutex_unlock(&mutex);
	return got;
}

/* set_pin drives a pin. The simulator is told that it is driven from outside, or it would let a pull-up win. */
static void set_pin(char port, int pin, int high)
{
	static avr_ioport_external_t driven[26];
	avr_ioport_external_t *d = &driven[port - 'A'];

	d->name = port;
	d->mask |= 1 << pin;
	d->value = (d->value & ~(1 << pin)) | (high ? 1 << pin : 0);
	avr_ioctl(avr, AVR_IOCTL_IOPORT_SET_EXTERNAL(port), d);
	avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(port), pin), high);
}

static struct level coming;
static int pending; /* coming is waited for */
static avr_cycle_count_t due, last;

static avr_cycle_count_t cycles(unsigned long long ns) { return ns * MHZ / 1000; }

static avr_cycle_count_t play(avr_t *a, avr_cycle_count_t when, void *unused)
{
	(void)a;
	(void)unused;
	while (pending && due <= when) {
		set_pin(coming.port, coming.pin, coming.high);
		last = due;
		if ((pending = next_level(&coming)))
			due += cycles(coming.ns);
	}
	return pending ? due : 0;
}

static void on_byte(struct avr_irq_t *irq, uint32_t value, void *unused)
{
	unsigned char c = value;

	(void)irq;
	(void)unused;
	sent++;
	last_sent = avr->cycle;
	while (write(out_fd, &c, 1) < 0 && errno == EAGAIN)
		usleep(1000);
}

static void on_interrupt(struct avr_irq_t *irq, uint32_t running, void *unused)
{
	(void)irq;
	(void)unused;
	if (running)
		entered = avr->cycle;
	else if (entered && avr->cycle - entered > longest)
		longest = avr->cycle - entered;
}

static void no_sleep(avr_t *a, avr_cycle_count_t n)
{
	(void)a;
	(void)n;
}

static int fail(const char *what, const char *name)
{
	fprintf(stderr, "harness: %s %s\n", what, name);
	return 2;
}

static void open_terminal(void)
{
	struct termios t;
	char path[64];
	int master, slave;

	if (openpty(&master, &slave, path, NULL, NULL) < 0) {
		perror("harness: openpty");
		exit(2);
	}
	tcgetattr(slave, &t);
	cfmakeraw(&t);
	tcsetattr(slave, TCSANOW, &t);
	fcntl(master, F_SETFL, O_NONBLOCK);
	dprintf(out_fd, "%s\n", path);
	out_fd = master;
}

/* keep_time sleeps while simulated time is ahead of the clock on the wall. */
static void keep_time(const struct timespec *start)
{
	struct timespec now;
	long long wall, ahead;

	clock_gettime(CLOCK_MONOTONIC, &now);
	wall = (now.tv_sec - start->tv_sec) * 1000000LL + (now.tv_nsec - start->tv_nsec) / 1000;
	ahead = (long long)(avr->cycle / MHZ) - wall;
	if (ahead > 1000)
		usleep(ahead);
}

static int run(void)
{
	struct timespec start;
	avr_cycle_count_t look = 0;

	clock_gettime(CLOCK_MONOTONIC, &start);
	for (;;) {
		int state = avr_run(avr);
		if (state == cpu_Done || state == cpu_Crashed)
			return fail("the firmware stopped", "");
		if (avr->cycle < look)
			continue;
		look = avr->cycle + MHZ * 1000;
		if (timed)
			keep_time(&start);
		if (!pending && (pending = next_level(&coming))) {
			due = avr->cycle + cycles(coming.ns);
			avr_cycle_timer_register(avr, due - avr->cycle, play, NULL);
		}
		if (!pending && ended && (timed || avr->cycle > last + TAIL_MS * MHZ * 1000ULL))
			return 0;
	}
}

int main(int argc, char **argv)
{
	static const char *const high[] = {"B0", "B1", "B2", "C0", "C1", "D2", "D3", "D4", "D5"};
	elf_firmware_t firmware;
	uint32_t flags = 0;
	pthread_t reader;
	int state;

	out_fd = dup(1); /* the simulator itself talks on standard output */
	dup2(2, 1);
	if (argc > 1 && !strcmp(argv[1], "-t"))
		timed = 1;
	if (argc - timed != 3)
		return fail("usage: harness [-t] MCU bridge.elf", "");
	memset(&firmware, 0, sizeof firmware);
	if (elf_read_firmware(argv[2 + timed], &firmware) < 0)
		return fail("cannot read", argv[2 + timed]);
	if (!(avr = avr_make_mcu_by_name(argv[1 + timed])))
		return fail("the simulator does not know", argv[1 + timed]);
	avr_init(avr);
	avr->log = LOG_ERROR;
	avr->sleep = no_sleep;
	firmware.frequency = MHZ * 1000000;
	avr_load_firmware(avr, &firmware);
	avr->frequency = firmware.frequency;
	avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
	avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), on_byte, NULL);
	avr_irq_register_notify(avr_get_interrupt_irq(avr, AVR_INT_ANY) + AVR_INT_IRQ_RUNNING, on_interrupt, NULL);
	if (timed)
		open_terminal();
	for (unsigned i = 0; i < sizeof high / sizeof *high; i++)
		set_pin(high[i][0], high[i][1] - '0', 1);
	pthread_create(&reader, NULL, read_levels, NULL);
	state = run();
	fprintf(stderr, "%llu %lu %llu %llu\n", (unsigned long long)avr->cycle / MHZ / 1000, sent, longest,
		last_sent > last ? (unsigned long long)(last_sent - last) / MHZ : 0);
	return state;
}
