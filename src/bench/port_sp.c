/* The transport for real serial ports: libserialport. The only file that knows it. */
#include "bench/port_internal.h"

#include <errno.h>
#include <libserialport.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* errno is kept by libserialport for SP_ERR_FAIL only. */
static int errno_of(enum sp_return result)
{
    switch (result) {
    case SP_ERR_FAIL:
        return sp_last_error_code();
    case SP_ERR_ARG:
        return ENOTTY;
    case SP_ERR_MEM:
        return ENOMEM;
    default:
        return ENOTSUP;
    }
}

static struct port_identity identify(const struct sp_port *port)
{
    struct port_identity identity = {0};
    if (sp_get_port_transport(port) != SP_TRANSPORT_USB ||
        sp_get_port_usb_vid_pid(port, &identity.vendor, &identity.product) != SP_OK)
        return identity;
    identity.usb = true;
    const char *serial = sp_get_port_usb_serial(port);
    (void)snprintf(identity.serial, sizeof identity.serial, "%s", serial != NULL ? serial : "");
    return identity;
}

static enum status sp_driver_open(const char *path, void **handle, int *fd,
                                  struct port_identity *identity, struct err *err)
{
    struct sp_port *port = NULL;
    enum sp_return result = sp_get_port_by_name(path, &port);
    if (result != SP_OK)
        return port_open_fault(path, errno_of(result), err);
    result = sp_open(port, SP_MODE_READ_WRITE);
    if (result != SP_OK) {
        enum status status = port_open_fault(path, errno_of(result), err);
        sp_free_port(port);
        return status;
    }
    *identity = identify(port);
    if (sp_get_port_handle(port, fd) != SP_OK) {
        (void)sp_close(port);
        sp_free_port(port);
        return err_set(err, STATUS_NO_BENCH, "%s: the port gives no handle", path);
    }
    *handle = port;
    return STATUS_OK;
}

static enum sp_parity parity_of(enum port_parity parity)
{
    switch (parity) {
    case PORT_PARITY_ODD:
        return SP_PARITY_ODD;
    case PORT_PARITY_EVEN:
        return SP_PARITY_EVEN;
    case PORT_PARITY_NONE:
        break;
    }
    return SP_PARITY_NONE;
}

static enum status set_failed(const char *path, const char *what, int value, enum sp_return result,
                              struct err *err)
{
    return err_set(err, STATUS_NO_BENCH, "%s: the port can't be set to %s %d: %s", path, what,
                   value, strerror(errno_of(result)));
}

static enum status set(struct sp_port *port, const char *path, const struct port_settings *settings,
                       struct err *err)
{
    enum sp_return result = sp_set_baudrate(port, settings->baud);
    if (result != SP_OK)
        return set_failed(path, "baud", settings->baud, result, err);
    result = sp_set_bits(port, settings->data_bits);
    if (result != SP_OK)
        return set_failed(path, "data bits", settings->data_bits, result, err);
    result = sp_set_parity(port, parity_of(settings->parity));
    if (result != SP_OK)
        return set_failed(path, "parity", (int)settings->parity, result, err);
    result = sp_set_stopbits(port, settings->stop_bits);
    if (result != SP_OK)
        return set_failed(path, "stop bits", settings->stop_bits, result, err);
    result = sp_set_flowcontrol(port, SP_FLOWCONTROL_NONE);
    if (result != SP_OK)
        return set_failed(path, "flow control", 0, result, err);
    return STATUS_OK;
}

/* Drivers take a speed they can't do and stay at the old one: only the read-back tells. */
static enum status compare(const struct sp_port_config *config, const char *path,
                           const struct port_settings *settings, struct err *err)
{
    int baud = 0, bits = 0, stop_bits = 0;
    enum sp_parity parity = SP_PARITY_INVALID;
    if (sp_get_config_baudrate(config, &baud) != SP_OK ||
        sp_get_config_bits(config, &bits) != SP_OK ||
        sp_get_config_parity(config, &parity) != SP_OK ||
        sp_get_config_stopbits(config, &stop_bits) != SP_OK)
        return err_set(err, STATUS_NO_BENCH, "%s: the port's settings can't be read back", path);
    if (abs(baud - settings->baud) * 50 > settings->baud)
        return err_set(err, STATUS_NO_BENCH,
                       "%s: the port does not take %d baud, it stays at %d; choose a speed that "
                       "port and controller can both do",
                       path, settings->baud, baud);
    /* Ports without parity at all read back as unknown, which is none. */
    if (parity == SP_PARITY_INVALID)
        parity = SP_PARITY_NONE;
    if (bits != settings->data_bits || stop_bits != settings->stop_bits ||
        parity != parity_of(settings->parity))
        return err_set(err, STATUS_NO_BENCH,
                       "%s: the port does not take the framing (%d data bits and %d stop bits were "
                       "read back); 8N1 is what every port can do",
                       path, bits, stop_bits);
    return STATUS_OK;
}

static enum status sp_driver_configure(void *handle, const char *path,
                                       const struct port_settings *settings, struct err *err)
{
    struct sp_port *port = handle;
    enum status status = set(port, path, settings, err);
    if (status != STATUS_OK)
        return status;
    struct sp_port_config *config = NULL;
    enum sp_return result = sp_new_config(&config);
    if (result == SP_OK)
        result = sp_get_config(port, config);
    status = result == SP_OK ? compare(config, path, settings, err)
                             : port_open_fault(path, errno_of(result), err);
    sp_free_config(config);
    if (status == STATUS_OK && sp_flush(port, SP_BUF_BOTH) != SP_OK)
        status = err_set(err, STATUS_NO_BENCH, "%s: old bytes can't be discarded", path);
    return status;
}

static void sp_driver_close(void *handle)
{
    (void)sp_close(handle);
    sp_free_port(handle);
}

const struct port_driver port_driver_serialport = {"libserialport", sp_driver_open,
                                                   sp_driver_configure, sp_driver_close};

void port_list(struct buf *out)
{
    struct sp_port **ports = NULL;
    size_t n = 0;
    if (sp_list_ports(&ports) == SP_OK)
        for (; ports[n] != NULL; n++)
            buf_printf(out, "%s%s", n > 0 ? ", " : "", sp_get_port_name(ports[n]));
    if (n == 0)
        buf_text(out, "none");
    sp_free_port_list(ports);
}

bool port_find(const struct port_identity *identity, struct buf *path)
{
    struct sp_port **ports = NULL;
    bool found = false;
    if (!identity->usb || identity->serial[0] == '\0' || sp_list_ports(&ports) != SP_OK)
        return false;
    for (size_t i = 0; ports[i] != NULL && !found; i++) {
        struct port_identity other = identify(ports[i]);
        found = other.usb && other.vendor == identity->vendor &&
                other.product == identity->product && strcmp(other.serial, identity->serial) == 0;
        if (found)
            buf_text(path, sp_get_port_name(ports[i]));
    }
    sp_free_port_list(ports);
    return found;
}
